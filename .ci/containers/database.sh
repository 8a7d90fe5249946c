#!/bin/sh
# Makes the database on first start, as the official image does, then serves it.
set -e
data=/var/lib/postgresql/data
if [ ! -f "$data/PG_VERSION" ]; then
  printf '%s\n' "$POSTGRES_PASSWORD" > /tmp/password
  initdb -D "$data" -U "$POSTGRES_USER" --pwfile=/tmp/password --auth-host=scram-sha-256 --auth-local=trust -E UTF8 > /dev/null
  rm /tmp/password
  echo "host all all all scram-sha-256" >> "$data/pg_hba.conf"
  pg_ctl -D "$data" -w -o "-k /tmp -h ''" start > /dev/null
  createdb -U "$POSTGRES_USER" "$POSTGRES_DB"
  pg_ctl -D "$data" -w stop > /dev/null
fi
exec postgres -D "$data" -h 0.0.0.0 -k /tmp
