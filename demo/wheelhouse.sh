#!/bin/sh
# Everything that an installation without internet needs, in one folder to carry over.
#
#   sh demo/wheelhouse.sh OUT
#
# Run it in a checkout, on a machine with internet whose system, processor and Python version
# are those of the clinic's machine. PYTHON names another Python, e.g. PYTHON=python3.12.
# What PDF, encryption and workbooks need comes along; EXTRAS=pdf takes PDF alone, EXTRAS= none.
# On the clinic's machine, without admin rights and without internet:
#
#   sh OUT/install.sh [FOLDER]        FOLDER: ~/limbscribe when left out
set -eu
[ $# -eq 1 ] || { echo "usage: sh demo/wheelhouse.sh OUT" >&2; exit 2; }
python=${PYTHON:-python3}
extras=${EXTRAS-encryption,pdf,xlsx}
source=$(cd "$(dirname "$0")/.." && pwd)
[ -e "$1" ] && { echo "wheelhouse: $1 exists already; name a new folder" >&2; exit 2; }
mkdir -p "$1"
out=$(cd "$1" && pwd)

# The checkout is copied, so that building leaves nothing behind in it.
copy=$(mktemp -d)
trap 'rm -rf "$copy"' EXIT
for name in core tui demo pyproject.toml README.md LICENSE; do
    cp -R "$source/$name" "$copy/"
done
"$python" -m venv "$copy/.venv"
"$copy/.venv/bin/python" -m pip --disable-pip-version-check wheel --quiet \
    --wheel-dir "$out/wheels" "$copy${extras:+[$extras]}"

tag=$("$python" -c 'import sys, sysconfig
print(f"{sys.version_info.major}.{sys.version_info.minor} {sysconfig.get_platform()}")')
cat > "$out/install.sh" <<INSTALL
#!/bin/sh
# Installs limbscribe from this folder: no internet, no admin rights.
# Made for Python $tag
set -eu
here=\$(cd "\$(dirname "\$0")" && pwd)
to=\${1:-\$HOME/limbscribe}
python=\${PYTHON:-python3}
has=\$("\$python" -c 'import sys, sysconfig
print(f"{sys.version_info.major}.{sys.version_info.minor} {sysconfig.get_platform()}")')
if [ "\$has" != "$tag" ]; then
    echo "install: this folder was made for Python $tag, here is \$has" >&2
    echo "install: nothing was installed; make the folder anew on a machine like this one" >&2
    exit 1
fi
if [ -e "\$to" ] && [ ! -e "\$to/pyvenv.cfg" ]; then
    echo "install: \$to exists and is something else; nothing was installed, name a new folder" >&2
    exit 1
fi
"\$python" -m venv "\$to"
"\$to/bin/python" -m pip --disable-pip-version-check install --quiet --upgrade \\
    --no-index --find-links "\$here/wheels" "limbscribe${extras:+[$extras]}"
echo "installed: \$to/bin/limbscribe"
INSTALL
echo "$out: $(du -sm "$out/wheels" | cut -f1) MB for Python $tag"
echo "carry it over and run: sh $(basename "$out")/install.sh"
