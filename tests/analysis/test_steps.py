"""Steps in weekly series: found where they are, and not in creeps or scatter."""

import numpy as np
import pytest

from analysis.steps import best_split, find_step

# Annual flow of the Nile at Aswan, 1871-1970, 1e8 m3, as statistics packages ship it (from
# memory; Cobb, Biometrika 65, 1978, puts its one change at 1898/1899)
NILE = np.array(
    [
        1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960,
        1180, 799, 958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694,
        940, 833, 701, 916, 692, 1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764,
        821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897, 822,
        1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050,
        918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
    ],
    dtype=np.float64,
)  # fmt: skip


def test_the_nile_changed_between_1898_and_1899():
    at = best_split(NILE)

    assert 1871 + at == 1899


def test_a_step_comes_back_with_its_place_and_size():
    rng = np.random.default_rng(47)
    values = np.r_[np.full(5, 44.0), np.full(3, 46.5)] + rng.normal(0, 0.1, 8)

    got = find_step(values, least=1.0, floor=0.2)

    assert got.at == 5
    assert got.size == pytest.approx(2.5, abs=0.2)


@pytest.mark.parametrize("n", [4, 6, 8, 26])
def test_a_creep_is_no_step(n):
    assert find_step(np.linspace(44.0, 48.0, n), least=1.0, floor=0.05) is None


def test_scatter_is_no_step():
    rng = np.random.default_rng(47)
    found = [find_step(rng.normal(44.0, 0.5, 8), least=1.0, floor=0.2) for _ in range(400)]

    assert sum(step is not None for step in found) <= 8  # 2 %


def test_one_odd_week_in_the_middle_is_no_step():
    assert find_step(np.array([44.0, 44.1, 47.0, 44.0, 43.9]), least=1.0, floor=0.2) is None


def test_a_step_too_small_to_matter_is_none():
    values = np.array([44.0, 44.0, 44.0, 44.6, 44.6])

    assert find_step(values, least=1.0, floor=0.05) is None


@pytest.mark.parametrize("values", [[], [44.0], [44.0, 46.0]])
def test_too_few_values_show_no_step(values):
    assert find_step(np.array(values), least=1.0, floor=0.2) is None
