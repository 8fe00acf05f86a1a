#!/usr/bin/env bash
# Debian packages that the tests drive: a browser, a PostgreSQL server, Java for Spark.
set -u
missing=()
command -v chromium >/dev/null || missing+=(chromium)
compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null || missing+=(postgresql)
command -v java >/dev/null || missing+=(default-jre-headless)
command -v pdftoppm >/dev/null || missing+=(poppler-utils)
[ ${#missing[@]} -eq 0 ] && exit 0
if [ "$(id -u)" -ne 0 ]; then
  echo "The tests need the Debian packages ${missing[*]}: run 'sudo apt-get install ${missing[*]}' once, then 'make test' again." >&2
  exit 1
fi
if ! command -v apt-get >/dev/null; then
  echo "The tests need ${missing[*]} and this system has no apt-get: install them by its own means, then 'make test' again." >&2
  exit 1
fi
apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
