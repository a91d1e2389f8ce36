-- dropped: one row per row of staged whose pump and instant are in the store already, or come
-- earlier in the batch. What is in the store stays; within a batch the file that sorts first
-- stays, within a file its first row. place is the row id in staged.
-- reads   staged(file_no, row_id, pump_no, ts, channels, fault_code),
--         all_samples(pump_no, ts, channels, fault_code), what is in the store
-- params  none
with
reach as ( -- what stretch of time the batch covers, per pump
    select pump_no, min(ts) as from_at, max(ts) as to_at
    from staged
    group by pump_no
),
offered as (
    select file_no::integer as file_no, row_id, rowid as place, pump_no, ts,
        hash(pressure_kpa, frequency_hz, current_a, voltage_v, suction_kpa, flow_lpm,
            drive_temp_c, input_current_a, fault_code) as values_hash
    from staged
),
stored as (
    select -1 as file_no, -1 as row_id, -1 as place, all_samples.pump_no, all_samples.ts,
        hash(pressure_kpa, frequency_hz, current_a, voltage_v, suction_kpa, flow_lpm,
            drive_temp_c, input_current_a, fault_code) as values_hash
    from all_samples
    join reach on all_samples.pump_no = reach.pump_no and all_samples.ts between from_at and to_at
    where all_samples.ts between (select min(from_at) from reach) and (select max(to_at) from reach)
),
candidates as (
    select * from stored
    union all
    select * from offered
),
ranked as (
    select file_no, place, values_hash,
        row_number() over same_instant as turn,
        first_value(values_hash) over same_instant as kept_hash
    from candidates
    window same_instant as (partition by pump_no, ts order by file_no, row_id)
)
select file_no, place, values_hash = kept_hash as is_repeated
from ranked
where turn > 1
