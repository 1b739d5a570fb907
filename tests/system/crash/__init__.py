"""The crash kit: kills, power cuts, failing disks and planted bugs against the shelf."""
