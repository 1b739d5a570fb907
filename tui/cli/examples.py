"""Command lines that --help of a command shows; a test puts each of them through the parser.

P-017 and P-071 are codes that nobody has.
"""

from __future__ import annotations

EXAMPLES: dict[str, tuple[str, ...]] = {
    "import": (
        "limbscribe import readings.csv --dry-run",
        "limbscribe import readings.xlsx --zone Europe/Vienna",
        "limbscribe import theirs.csv --mapping theirs.map.toml",
    ),
    "map": ("limbscribe map theirs.csv", "limbscribe map theirs.csv --output clinic-b.map.toml"),
    "export": (
        "limbscribe export P-017 --output p-017.csv",
        "limbscribe export --format xlsx --output readings.xlsx",
        "limbscribe export --wide --datapackage --output sessions.csv",
        "limbscribe export P-017 --format fhir --transaction --output p-017.json",
        "limbscribe export --format fhir-ndjson --output bulk",
    ),
    "report": (
        "limbscribe report P-017",
        "limbscribe report P-017 --against injection --format html --output p-017.html",
        "limbscribe report P-017 --session 25.11.2026 --short",
        "limbscribe report P-017 --language de --format pdf --output bericht.pdf",
    ),
    "sheet": ("limbscribe sheet P-017", "limbscribe sheet P-017 --blind --format pdf -o sheet.pdf"),
    "trend": (
        "limbscribe trend P-017 --muscle hamstrings --side left",
        "limbscribe trend P-017 --page",
    ),
    "compare": (
        "limbscribe compare P-017",
        "limbscribe compare P-017 --from 2026-03-02 --to 2026-11-25 --by-size",
    ),
    "events": (
        "limbscribe events P-017",
        "limbscribe events --import events.csv --dry-run",
        "limbscribe events P-017 --goal 'hand opens for washing' --date 2026-03-02 --by JT",
        "limbscribe events P-017 --number 1 --score -1 --date 2026-04-14 --by JT",
    ),
    "history": ("limbscribe history P-017", "limbscribe history P-017 --at 3"),
    "caseload": (
        "limbscribe caseload",
        "limbscribe caseload --diagnosis stroke --muscle elbow-flexors --sides-together",
        "limbscribe caseload --since 2026-01-01 --format html --output caseload.html",
        "limbscribe caseload --format csv --wide --output cycles.csv --datapackage",
    ),
    "worklist": ("limbscribe worklist", "limbscribe worklist --ahead 14 --json"),
    "patient": (
        "limbscribe patient P-017",
        "limbscribe patient P-017 --born 1961-04 --affected left --by JT",
    ),
    "withdraw": (
        "limbscribe withdraw P-017 --session 25.11.2026 --to P-071 --by JT --reason 'wrong code'",
    ),
    "fall": (
        "limbscribe fall --segment leg-foot --height 1.70 --from 90 --to 0",
        "limbscribe fall --muscle knee-extensors --height 1.70 --from 10 --to 90 --json",
    ),
    "agreement": (
        "limbscribe agreement ratings.csv --ordinal 0-4",
        "limbscribe agreement --muscle soleus --pairs",
    ),
    "verify": ("limbscribe verify", "limbscribe verify --set-aside"),
    "backup": ("limbscribe backup shelf.backup", "limbscribe backup shelf.backup --check"),
    "restore": (
        "limbscribe restore shelf.backup --dry-run",
        "limbscribe restore north.backup south.backup",
    ),
    "erase": ("limbscribe erase P-017",),
    "encryption": ("limbscribe encryption on", "limbscribe encryption passphrase"),
    "shelf": (
        "limbscribe shelf init --shelf postgresql://limb_owner@db.example.org/limbs",
        "limbscribe shelf copy ~/.local/share/limbscribe/shelf"
        " postgresql://limb_owner@db.example.org/limbs",
        "limbscribe shelf deliver",
    ),
    "enter": ("limbscribe enter P-017", "limbscribe enter P-017 --plain --on '25.11.2026 10:10'"),
    "demo": ("limbscribe demo", "limbscribe demo --caseload"),
    "drill": ("limbscribe drill --sessions 3",),
    "config": ("limbscribe config", "limbscribe config --example"),
    "doctor": ("limbscribe doctor",),
    "completion": ("limbscribe completion bash", "limbscribe completion zsh"),
    "man": ("limbscribe man",),
    "help": ("limbscribe help export",),
}
"""By the name of the command."""
