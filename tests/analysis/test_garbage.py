import gc

import pytest

from analysis.garbage import no_collecting


@pytest.mark.parametrize("was_on", [True, False])
def test_collecting_is_as_before_even_after_an_error(was_on: bool) -> None:
    before = gc.isenabled()
    (gc.enable if was_on else gc.disable)()
    try:
        with no_collecting():
            assert not gc.isenabled()
        assert gc.isenabled() == was_on
        with pytest.raises(KeyError), no_collecting():
            raise KeyError
        assert gc.isenabled() == was_on
    finally:
        (gc.enable if before else gc.disable)()
