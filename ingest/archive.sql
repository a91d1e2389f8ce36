-- archive: what was moved out of samples into files beside the store. A file is never written to
-- again; samples that come late go into another one.

create table if not exists archive_files (
    name varchar not null, -- within the archive's folder
    week varchar not null,
    sha256 varchar not null,
    bytes bigint not null
);

create table if not exists archived (
    name varchar not null,
    pump_no integer not null,
    week varchar not null,
    n_samples bigint not null,
    first_at timestamp not null,
    last_at timestamp not null
);
