# ruff: noqa: S608 - the table names come out of the schema under test
"""Evidence cannot be changed, migrations are all or nothing, and what is not ours is refused."""

import apsw
import pytest

from logger.domain.record import Claim, EventKind, RecorderOff, RecordEvent, Statement
from logger.errors import StoreError
from logger.store.connection import open_for_reading, open_for_writing
from logger.store.reader import Reader
from logger.store.schema import MIGRATIONS, migrate
from logger.store.writer import Writer
from tests.unit.store.record_values import EMITTED, ENDED, FINISHED, OPENED, header, open_writer, sample

NOT_EVIDENCE = {"journal", "alive", "summary", "imported_run"}


@pytest.fixture
def path(tmp_path):
    return tmp_path / "record.db"


@pytest.fixture
def filled(path):
    """A record with at least one row in each table, its writer gone, opened by somebody else."""
    writer = open_writer(path)
    writer.open_joint(header(1))
    writer.open_joint(header(2, None))
    writer.append(header(1).uuid, sample(0))
    writer.append(header(2).uuid, sample(0))
    writer.append_event(None, RecordEvent(kind=EventKind.HEALTH, code="pressure.lost"))
    writer.close_joint(header(1).uuid, FINISHED, EMITTED)
    writer.claim_joint(
        header(2).uuid,
        Claim(number="A-9", project="Lindental", claimed_by="R. Amsel", reason="forgot", at=ENDED),
    )
    writer.record_off(RecorderOff(from_utc=OPENED.utc, to_utc=ENDED.utc, reason="power"))
    writer.append_statement(Statement(kind="remark", author="R. Amsel", at=ENDED, body={"text": "rain"}))
    writer.alive(ENDED)
    writer.end_run(ENDED, "stopped")
    writer.close()
    connection = apsw.Connection(str(path))
    yield connection
    connection.close()


def tables_of(connection):
    found = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
    return [name for (name,) in found]


def test_every_table_but_the_journal_refuses_update_delete_and_replace(filled):
    evidence = [table for table in tables_of(filled) if table not in NOT_EVIDENCE]
    assert len(evidence) == 15
    for table in evidence:
        before = filled.execute(f"SELECT * FROM {table}").fetchall()
        assert before, f"{table} is empty: nothing would be shown"
        column = filled.execute(f"SELECT name FROM pragma_table_info('{table}')").fetchone()[0]
        for attempt in (
            f"UPDATE {table} SET {column} = {column}",
            f"DELETE FROM {table}",
            f"REPLACE INTO {table} SELECT * FROM {table}",
            f"INSERT INTO {table} SELECT * FROM {table} WHERE 1 ON CONFLICT DO UPDATE SET {column} = 1",
        ):
            with pytest.raises(apsw.ConstraintError, match=f"{table} is append-only"):
                filled.execute(attempt)
        assert filled.execute(f"SELECT * FROM {table}").fetchall() == before


def test_a_joint_cannot_be_replaced_through_its_number_either(filled):
    columns = [name for (name,) in filled.execute("SELECT name FROM pragma_table_info('joint')")]
    taken = ", ".join({"joint_id": "NULL", "uuid": "'other'"}.get(column, column) for column in columns)
    with pytest.raises(apsw.ConstraintError, match="joint is append-only"):
        filled.execute(f"REPLACE INTO joint SELECT {taken} FROM joint WHERE number IS NOT NULL")


def test_commits_are_synced_and_logged_ahead(path):
    connection = open_for_writing(path)
    assert connection.pragma("synchronous") == 2
    assert connection.pragma("journal_mode") == "wal"
    assert connection.pragma("foreign_keys") == 1
    connection.close()


def test_each_migration_leaves_a_record_that_it_ran(path):
    connection = open_for_writing(path)
    migrate(connection, "2031-05-04T07:00:00Z")
    later = (*MIGRATIONS, "CREATE TABLE later (a TEXT) STRICT;")
    migrate(connection, "2031-06-01T07:00:00Z", later)
    migrate(connection, "2031-07-01T07:00:00Z", later)
    assert connection.execute("SELECT number, utc FROM migration").fetchall() == [
        *((number, "2031-05-04T07:00:00Z") for number in range(1, len(MIGRATIONS) + 1)),
        (len(MIGRATIONS) + 1, "2031-06-01T07:00:00Z"),
    ]
    connection.close()


def test_a_migration_that_fails_leaves_nothing_behind(path):
    connection = open_for_writing(path)
    migrate(connection, "2031-05-04T07:00:00Z")
    before = tables_of(connection)
    broken = (*MIGRATIONS, "CREATE TABLE later (a TEXT) STRICT; INSERT INTO nowhere VALUES (1);")
    with pytest.raises(apsw.SQLError, match="nowhere"):
        migrate(connection, "2031-06-01T07:00:00Z", broken)
    assert tables_of(connection) == before
    assert connection.pragma("user_version") == len(MIGRATIONS)
    assert connection.execute("SELECT count(*) FROM migration").get == len(MIGRATIONS)
    connection.close()


def test_a_newer_schema_is_refused_and_left_alone(filled, path):
    known = len(MIGRATIONS)
    filled.pragma("user_version", known + 1)
    for opening in (lambda: Writer(path, at=OPENED), lambda: Reader(path)):
        with pytest.raises(
            StoreError, match=f"newer Beadwatch .schema {known + 1}, this one knows up to {known}"
        ):
            opening()
    assert filled.execute("SELECT count(*) FROM joint").get == 2


def test_an_older_schema_is_not_read_before_the_recorder_updated_it(path):
    open_for_writing(path).close()
    with pytest.raises(StoreError, match="schema 0 is older"):
        open_for_reading(path)


def test_another_database_a_text_and_a_missing_file_are_refused(path, tmp_path):
    other = apsw.Connection(str(path))
    other.execute("CREATE TABLE stock (a)")
    other.close()
    text = tmp_path / "notes.txt"
    text.write_text("not a record " * 100)
    for wrong in (path, text):
        with pytest.raises(StoreError, match=str(wrong)):
            Writer(wrong, at=OPENED)
        with pytest.raises(StoreError, match=str(wrong)):
            Reader(wrong)
    with pytest.raises(StoreError, match="no such record"):
        Reader(tmp_path / "missing.db")
    with pytest.raises(StoreError, match=r"notes\.txt"):
        Writer(text / "record.db", at=OPENED)


def test_a_damaged_file_is_refused_by_the_writer(filled, path):
    filled.pragma("wal_checkpoint(TRUNCATE)")
    root = filled.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'finding'").get
    page_size = filled.pragma("page_size")
    filled.close()
    with path.open("r+b") as file:
        file.seek((root - 1) * page_size)
        file.write(b"\xff" * 64)
    with pytest.raises(StoreError, match=r"record\.db"):
        Writer(path, at=OPENED)


def test_a_block_that_does_not_meet_its_hash_is_refused(filled, path):
    filled.execute("DROP TRIGGER joint_block_no_update")
    filled.execute("UPDATE joint_block SET sha256 = replace(sha256, substr(sha256, 1, 1), 'x')")
    with Reader(path) as reader, pytest.raises(StoreError, match="do not meet their hash"):
        reader.samples(header(1).uuid)


def test_a_second_writer_is_refused_until_the_first_is_closed(path):
    first = open_writer(path)
    with pytest.raises(StoreError, match="already open for writing by process"):
        Writer(path, at=OPENED)
    first.close()
    Writer(path, at=OPENED).close()


def test_an_sqlite_that_may_damage_the_record_is_refused(path, monkeypatch):
    monkeypatch.setattr(apsw, "sqlite_lib_version", lambda: "3.40.1")
    with pytest.raises(StoreError, match=r"SQLite 3\.40\.1"):
        Writer(path, at=OPENED)
