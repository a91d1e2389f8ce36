"""An invented fleet with its own physics; imports nothing of the other packages.

Everything here is made up: a service company that looks after variable-speed pump sets in an
invented river country (regions Lower Hale, Upper Hale, Stony Reach, Dry Fork and Nordhavel), its
crews, customers, pump and motor models. No place, person, maker or product is real.

``make_fleet`` writes the company's register, six weeks of logs and ``truth.csv``, which says what
was built into each pump. Each pump is one scenario: a fault of a given cause and size, two faults
at once, or a healthy pump that merely looks odd (night irrigation, a softener, an outage). The
pressure tank, the pump, the drive's control, the motor, the supply and the people who draw water
are simulated from event to event by the formulas in ``plant``, ``control`` and ``supply``, then
sampled as a logger would. The seed decides everything that the scenario does not: which site,
model, tank, wire, leak rate within its size's band, demand, noise, file layout.

``truth.csv`` has one row per fault, or one row with a blank kind for a healthy pump:
``pump_id, site_id, scenario, kind, cause, size, began_on, ended_on, also_allowed, note, leak_lpm,
loop_resistance_ohm``. The kind ``other`` stands for a fault that the report has no kind for.
``also_allowed`` lists what may be reported besides without being wrong, as ``kind`` or
``kind:cause``, parted by ``;``.

``python -m sample_data.score FOLDER`` compares a folder's findings with its truth;
``python -m sample_data.trials`` does so over several seeds.
"""
