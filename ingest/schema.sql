-- schema: the tables of a store. Times are UTC without zone; units are the program's inner ones.
-- Weekly records and findings are made by analysis (see analysis/records.py); they live here too.

create table meta (
    schema_version integer not null
);

create table sites (
    site_id varchar not null,
    site_name varchar,
    timezone varchar not null,
    region varchar,
    installer varchar,
    customer varchar,
    units varchar not null,
    dependence varchar,
    energy_price_per_kwh double,
    water_price_per_m3 double,
    currency varchar
);

create table pumps (
    pump_id varchar not null,
    site_id varchar not null,
    pump_model varchar,
    motor_model varchar,
    controller_model varchar,
    motor_kw double,
    motor_volts double,
    rated_amps double,
    service_factor_amps double,
    overload_setting_amps double,
    supply_volts double,
    supply_phases integer not null,
    motor_phases integer,
    max_hz double not null,
    min_hz double not null,
    ramp varchar,
    pressure_setting_kpa double,
    suction varchar,
    suction_kpa double,
    tank_l double,
    precharge_kpa double,
    supply_wire_mm2 double,
    supply_wire_m double,
    motor_lead_m double,
    output_filter boolean,
    installed_on date,
    warranty_months double
);

create table curves (
    pump_model varchar not null,
    flow_lpm double not null,
    head_m double not null,
    efficiency_pct double,
    shaft_kw double
);

create table fault_codes (
    controller_model varchar not null,
    fault_code varchar not null,
    meaning varchar not null
);

create table visits (
    visited_on date not null,
    site_id varchar not null,
    pump_id varchar,
    kind varchar,
    outcome varchar,
    found varchar,
    done varchar,
    until_on date
);

-- A pump's number never changes, so samples carry 4 bytes instead of its id.
create table pump_numbers (
    pump_no integer not null,
    pump_id varchar not null
);

-- The ledger: one row per distinct file content ever loaded.
create table files (
    sha256 varchar not null,
    name varchar not null,
    bytes bigint not null,
    read_as varchar not null, -- what the reading hung on: profile and register, as a hash
    rows_in bigint not null,
    rows_kept bigint not null,
    rows_repeated bigint not null,
    rows_conflicting bigint not null,
    rows_rejected bigint not null
);

-- No key, no index: repeated instants are removed while loading.
-- Rows lie sorted by pump and time within each load.
-- Rarer channels (see ingest/samples.py) become columns when a log first has them: a column without
-- a value takes as long to store as one with values.
create table samples (
    pump_no integer not null,
    ts timestamp not null,
    pressure_kpa float,
    frequency_hz float,
    current_a float,
    voltage_v float
);

create table rejects (
    sha256 varchar not null,
    file varchar not null,
    line bigint,
    reason varchar not null,
    advice varchar not null,
    content varchar
);

-- Which pump has samples in which ISO week of its site's local time; is_measured turns false when
-- a load adds samples to the week and true when the scan has measured it.
create table coverage (
    pump_no integer not null,
    week varchar not null,
    n_samples bigint not null,
    first_at timestamp not null,
    last_at timestamp not null,
    is_measured boolean not null
);
