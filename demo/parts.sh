#!/bin/sh
# Two lists of all that a folder of demo/wheelhouse.sh installs, made by one command:
#
#   sh demo/parts.sh OUT
#
# OUT/sbom.json: the bill of materials, CycloneDX as JSON, checked against its schema.
# OUT/licences.md: name, version, licence and address of every package; the texts of the
# licences are in the packages themselves.
# It needs internet for the two tools that write them, which go into a folder of their own.
set -eu
[ $# -eq 1 ] || { echo "usage: sh demo/parts.sh OUT" >&2; exit 2; }
[ -d "$1/wheels" ] || { echo "parts: $1 is no folder of demo/wheelhouse.sh" >&2; exit 2; }
python=${PYTHON:-python3}
out=$(cd "$1" && pwd)
source=$(cd "$(dirname "$0")/.." && pwd)

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$python" -m venv "$work/tools"
pip() { "$work/tools/bin/python" -m pip --disable-pip-version-check "$@"; }
pip install --quiet cyclonedx-bom==7.5.0 pip-licenses==5.5.5

# Installed once more, without pip itself, so that the lists have what is used and no more.
"$python" -m venv --without-pip "$work/used"
ln -s "$out/wheels" "$work/wheels"
pip --python "$work/used/bin/python" install --quiet --no-index --no-deps --no-compile \
    "$work"/wheels/*.whl
version=$("$work/used/bin/python" -c 'import limbscribe; print(limbscribe.__version__)')
sed "s/^dynamic = .*/version = \"$version\"/" "$source/pyproject.toml" > "$work/pyproject.toml"

"$work/tools/bin/cyclonedx-py" environment --pyproject "$work/pyproject.toml" \
    --output-reproducible --output-format JSON "$work/used/bin/python" > "$work/sbom.json"
# Where the packages are is told from the folder on, so that it holds wherever that is carried.
sed "s|file://$work/||" "$work/sbom.json" > "$out/sbom.json"
"$work/tools/bin/pip-licenses" --python "$work/used/bin/python" --with-urls --format markdown \
    > "$out/licences.md"
echo "$out: sbom.json and licences.md of $(ls "$out/wheels" | wc -l) packages"
