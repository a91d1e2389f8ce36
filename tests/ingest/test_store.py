import subprocess
import sys
from dataclasses import replace

import duckdb
import pytest

from ingest.errors import StoreError
from ingest.installed_base import Register
from ingest.store import open_store, pump_numbers, read_register, save_register


def test_a_register_comes_back_as_it_was_saved(con, register):
    assert read_register(con) == register


def test_saving_again_replaces_the_register_but_keeps_pump_numbers(con, register):
    before = pump_numbers(con)
    fewer = replace(register, pumps={"P-2": register.pumps["P-2"]})

    save_register(con, fewer)

    assert read_register(con) == fewer
    assert pump_numbers(con) == before


def test_a_store_that_is_not_there_cannot_be_read(tmp_path):
    with pytest.raises(StoreError, match="no such store"):
        open_store(tmp_path / "none.duckdb", read_only=True)


def test_a_store_in_a_missing_folder_is_an_error(tmp_path):
    with pytest.raises(StoreError, match="does not exist"):
        open_store(tmp_path / "no" / "fleet.duckdb")


def test_a_file_that_is_no_database_is_an_error(tmp_path):
    path = tmp_path / "notes.duckdb"
    path.write_text("these are notes\n" * 1000)

    with pytest.raises(StoreError, match="is not a store of this program"):
        open_store(path)


def test_a_database_of_something_else_is_left_alone(tmp_path):
    path = tmp_path / "other.duckdb"
    with duckdb.connect(str(path)) as other:
        other.execute("create table things (id integer)")

    with pytest.raises(StoreError, match="not a store of this program"):
        open_store(path)


def test_a_store_of_another_version_is_an_error(tmp_path):
    path = tmp_path / "fleet.duckdb"
    with open_store(path) as con:
        con.execute("update meta set schema_version = 99")

    with pytest.raises(StoreError, match="store version 99"):
        open_store(path)


def test_a_store_another_process_holds_is_told_in_plain_words(tmp_path):
    path = tmp_path / "fleet.duckdb"
    open_store(path).close()
    hold = (
        f"import duckdb; con = duckdb.connect({str(path)!r}); print('held', flush=True); input()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        holder.stdout.readline()

        with pytest.raises(StoreError, match="another process has the store open"):
            open_store(path)

        holder.communicate("\n")


def test_an_empty_register_can_be_saved(con):
    save_register(con, Register())

    assert read_register(con) == Register()
