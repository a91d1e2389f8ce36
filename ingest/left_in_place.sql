-- left_in_place: logs that stay where they lie, of those in archive_files; name is a whole path or
-- address there. What they hold stands in archived, as of files this program has written.

create table if not exists left_in_place (
    name varchar not null,
    changed_ns bigint not null, -- when it was last written to, as it was read
    key varchar not null, -- its key in the ledger
    reading varchar not null -- how its columns become samples (see ingest/outside.py), as JSON
);
