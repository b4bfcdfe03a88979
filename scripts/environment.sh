# Makes and refreshes the Python environment in .venv; sourced by scripts/run and scripts/test.
# shellcheck shell=bash
#
# The environment is built once and then again only when pyproject.toml, the pins, the interpreter or the
# place of the checkout change: a stamp file holds a checksum of these, so that a second start costs
# nothing. What pip says goes to .venv/install.log and is shown only when it fails.

here="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)"
venv="$here/.venv"
python="$venv/bin/python"
install_log="$venv/install.log"

# How many packages each kind of environment settles on: these numbers only scale the progress bar.
packages_run=38
packages_test=70

# Settings that send Python or pip somewhere else than into the environment.
unset PYTHONHOME PYTHONPATH PIP_TARGET PIP_PREFIX PIP_ROOT PIP_USER PIP_REQUIRE_VIRTUALENV

say() { printf '%s\n' "$*" >&2; }

# Whether the interpreter named is new enough and able to make an environment.
usable_python() {
    "$1" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# Print the first usable interpreter. A name on PATH may be a launcher for a version that is not
# installed, and the same name may stand in several folders, so each is tried by running it.
find_python() {
    local name candidate
    for name in "${COATLEDGER_PYTHON:-}" python3.13 python3.12 python3.11 python3 python python3.14; do
        [ -n "$name" ] || continue
        while IFS= read -r candidate; do
            if usable_python "$candidate"; then
                printf '%s\n' "$candidate"
                return 0
            fi
        done < <(type -aP "$name" 2>/dev/null)
    done
    return 1
}

explain_missing_python() {
    say "No usable Python was found on PATH: coatledger needs Python 3.11 or newer with venv and ensurepip."
    local name candidate
    for name in python3.13 python3.12 python3.11 python3; do
        while IFS= read -r candidate; do
            say "  $candidate: $("$candidate" -c '
import sys
missing = []
for name in ("venv", "ensurepip"):
    try:
        __import__(name)
    except ImportError:
        missing.append(name)
print(sys.version.split()[0], *(["without", *missing] if missing else []))' 2>&1 | tail -n 1)"
        done < <(type -aP "$name" 2>/dev/null)
    done
    say "On Debian and Ubuntu: apt-get install python3 python3-venv. Or name one: COATLEDGER_PYTHON=/path/to/python"
}

# What the environment depends on, as one line.
fingerprint() {
    {
        cat "$here/pyproject.toml" "$here/scripts/constraints.txt"
        printf '%s\n%s\n' "$here" "$(cat "$venv/pyvenv.cfg" 2>/dev/null)"
    } | cksum
}

is_fresh() {
    [ -x "$python" ] && [ "$(cat "$venv/stamp-$1" 2>/dev/null)" = "$(fingerprint)" ]
}

make_venv() {
    if [ -x "$python" ] && usable_python "$python" && "$python" -m pip --version >/dev/null 2>&1; then
        return 0
    fi
    local found
    if ! found="$(find_python)"; then
        explain_missing_python
        return 1
    fi
    say "making the environment with $found ($("$found" --version 2>&1))"
    rm -rf "$venv"
    "$found" -m venv "$venv" || {
        say "$found could not make an environment in $venv"
        return 1
    }
}

# Draw how far the installation is; on a terminal in place, elsewhere a line now and then.
draw_progress() {
    local seen="$1" total="$2" elapsed_s="$3" doing="$4" width=30 filled bar
    [ "$seen" -gt "$total" ] && seen="$total"
    filled=$((seen * width / total))
    bar="$(printf '%*s' "$filled" '' | tr ' ' '#')$(printf '%*s' $((width - filled)) '' | tr ' ' '.')"
    if [ -t 2 ]; then
        printf '\r\033[K[%s] %3d s  %s' "$bar" "$elapsed_s" "$doing" >&2
    elif [ "$((elapsed_s % 5))" -eq 0 ] && [ "$elapsed_s" != "${last_drawn_s:-}" ]; then
        last_drawn_s="$elapsed_s"
        say "[$bar] $elapsed_s s  $doing"
    fi
}

# Follow pip's log until the process given ends; return its exit code.
watch_pip() {
    local pid="$1" total="$2" started="$SECONDS" seen doing installed
    # A background process ignores the interrupt key, so it is ended by hand.
    trap 'kill "$pid" 2>/dev/null; say "stopped"; exit 130' INT TERM
    while kill -0 "$pid" 2>/dev/null; do
        seen="$(grep -cE '^(Collecting|Requirement already satisfied)' "$install_log")"
        if grep -q '^Installing collected packages' "$install_log"; then
            installed=("$venv"/lib/python*/site-packages/*.dist-info)
            doing="unpacking packages (${#installed[@]} so far)"
            seen=$((total + ${#installed[@]}))
        else
            doing="gathering packages ($seen so far)"
        fi
        draw_progress "$seen" "$((total * 2))" "$((SECONDS - started))" "$doing"
        sleep 0.3
    done
    if [ -t 2 ]; then
        printf '\r\033[K' >&2
    fi
    trap - INT TERM
    wait "$pid"
}

# Install the distribution with the extras given, held to the pins. A third word `plain` leaves this
# machine's pip settings out.
pip_install() {
    local extras="$1" total="$2" settings="${3:-}"
    (
        cd "$here" || exit 1
        if [ "$settings" = plain ]; then
            # pip calls itself to gather the build tools, so the settings are cleared for both.
            unset "${!PIP_@}"
            export PIP_CONFIG_FILE=/dev/null
        else
            # The environment always wins over a file that asks for a user installation.
            export PIP_USER=0 PIP_REQUIRE_VIRTUALENV=0
        fi
        exec "$python" -m pip install --no-input --disable-pip-version-check \
            --editable ".[$extras]" --constraint scripts/constraints.txt >"$install_log" 2>&1
    ) &
    watch_pip "$!" "$total"
}

# Make sure that .venv holds what `run` or `test` needs: prepare_environment run|test
prepare_environment() {
    local kind="$1" extras total
    is_fresh "$kind" && return 0
    case "$kind" in
        run) extras="server,cli,charts,tables,labels" total="$packages_run" ;;
        test) extras="test" total="$packages_test" ;;
        *) say "no environment is called $kind"; return 2 ;;
    esac
    make_venv || return 1
    say "installing what coatledger needs into .venv (once; later starts skip this)"
    # A machine's pip settings may be needed (an index, a certificate), so they are tried first; a
    # setting that cannot work inside an environment must not stop us, so they are then left out.
    if ! pip_install "$extras" "$total"; then
        cp "$install_log" "$install_log.first"
        say "pip failed with this machine's settings; trying without them"
        if ! pip_install "$extras" "$total" plain; then
            say "pip failed. With the machine's settings it said:"
            tail -n 15 "$install_log.first" >&2
            say "Without them:"
            tail -n 15 "$install_log" >&2
            return 1
        fi
    fi
    fingerprint >"$venv/stamp-$kind"
    # The environment for tests holds everything that running needs.
    [ "$kind" = test ] && fingerprint >"$venv/stamp-run"
    say "the environment is ready"
}
