-- left_out: one row per file, pump, local week and channel that had values no pump can show. They
-- are in no sample: in a needed channel they cost their row, elsewhere their cell.

create table if not exists left_out (
    sha256 varchar not null,
    pump_no integer not null,
    week varchar not null,
    channel varchar not null,
    n_values bigint not null,
    value double not null,       -- the most frequent one, the lowest of several; inner unit
    n_of_value bigint not null,
    first_at timestamp not null,
    last_at timestamp not null
);
