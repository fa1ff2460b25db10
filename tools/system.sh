#!/bin/sh
# The Debian packages that the checks need: a browser for the pages, readers for PDF, a database server for the store.
# Installs what is missing where it may (root, or sudo without a password); else says what is not run.
set -eu
missing=
command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
command -v pdftotext >/dev/null 2>&1 || missing="$missing poppler-utils"
set -- /usr/lib/postgresql/*/bin/initdb  # Debian keeps the server's programs off PATH
[ -x "$1" ] || command -v initdb >/dev/null 2>&1 || missing="$missing postgresql"
[ -n "$missing" ] || exit 0

not_run() {
    for package in $missing; do
        case $package in
            chromium) what="tests/browser (the picture page opened in a browser)" ;;
            postgresql) what="tests/store on PostgreSQL" ;;
            *) what="checks that read a PDF page" ;;
        esac
        echo "NOT RUN: $what: $1; to have them run: apt-get install $package" >&2
    done
    exit 0
}

command -v apt-get >/dev/null 2>&1 || not_run "no $(echo $missing | sed 's/ / and no /g') here, and no apt-get to install it"
if [ "$(id -u)" -eq 0 ]; then
    as_root="env"
elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
    as_root="sudo -n env"
else
    not_run "not installed, and installing it needs root"
fi
echo "system: installing$missing ..." >&2
log=$(mktemp)
if ! { $as_root DEBIAN_FRONTEND=noninteractive apt-get update -qq &&
       $as_root DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing; } \
        >"$log" 2>&1 </dev/null; then
    tail -n 5 "$log" >&2
    rm -f "$log"
    not_run "apt-get could not install it (its last lines stand above)"
fi
rm -f "$log"
