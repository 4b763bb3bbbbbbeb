"""Bringing a file up to date: safely, from every version, and never a file that is not ours.

For each revision there is, the tests below build a file at it, fill it by raw SQL and upgrade it. A new migration gets
them for nothing, but for its rows: add them to ROWS, by the revision from which they can be put in.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import CheckConstraint, create_engine

import server.log.kept_tables
import server.log.tables
import server.plan.tables
import server.store.tables  # noqa: F401  (the tables of each are now known to the metadata)
from server.settings import MIGRATIONS, Settings
from server.store import migrate
from server.store.base import metadata
from server.store.database import Database
from server.store.migrate import NewerFile, NotADatabase, bring_up_to_date, revision_of, upgrade
from server.store.sqlite import url_of

SCRIPTS = ScriptDirectory(str(MIGRATIONS))
REVISIONS = [script.revision for script in SCRIPTS.walk_revisions()][::-1]
HEAD = REVISIONS[-1]

NOW = "'2026-05-01 20:15:00.000000'"
ROWS = {
    "0001": f"""
        INSERT INTO build VALUES (1, 'proof press', '', 'mm', 'ISO 2768-m', {NOW});
        INSERT INTO part VALUES (1, 1, 'CR', 'connecting rod', 'A', 'C45', 'none', 2, 1, '', '');
        INSERT INTO operation VALUES (1, 1, 10, 'bore', 'mill', 'vice', 'G54', 'boring bar', 20.0, 'tram', NULL);
        INSERT INTO dimension VALUES (1, 1, 'D1', 'bore', 10, 'fit', 'bore gauge', NULL);
        INSERT INTO limits VALUES
            (1, 1, '25 ±0.05', 'mm', 'size', 25000000, 24950000, 25050000, '', 'larger', {NOW}, {NOW}),
            (2, 1, '25 +0.021/0', 'mm', 'size', 25000000, 25000000, 25021000, '', 'larger', {NOW}, NULL);
        INSERT INTO entry VALUES
            (1, 1, 'piece', {NOW}, {NOW}, 'me', NULL, ''), (2, 1, 'run', {NOW}, {NOW}, 'me', NULL, ''),
            (3, 1, 'run end', {NOW}, {NOW}, 'me', NULL, ''), (4, 1, 'reading', {NOW}, {NOW}, 'me', NULL, ''),
            (5, 1, 'reading', {NOW}, {NOW}, 'me', 4, 'misread'), (6, 1, 'event', {NOW}, {NOW}, 'me', NULL, ''),
            (7, 1, 'photo', {NOW}, {NOW}, 'me', NULL, '');
        INSERT INTO piece VALUES (1, 1, 1, 'CR-1', 'none', 'A');
        INSERT INTO run (id, operation_id, machine, setup, cutters, rpm, feed_typed, feed_unit, feed_nm)
          VALUES (2, 1, 'lathe', 'collet', '', 800.0, '60 mm', 'mm', 60000000);
        INSERT INTO run_piece VALUES (2, 1, 'G54');
        INSERT INTO run_end VALUES (3, 2, 'finished');
        INSERT INTO reading VALUES
            (4, 4, 1, 1, 2, 2, 24000000, '24', 'mm', 'absolute', '', NULL),
            (5, 4, 1, 1, 2, 2, 25010000, '25.01', 'mm', 'absolute', 'bore gauge', 21.5);
        INSERT INTO event VALUES (6, 'note', 1, 2, NULL, NULL, 'chattered at 900');
        INSERT INTO photo (id, sha256, media_type, width, height, size_bytes, caption, piece_id)
            VALUES (7, 'ab', 'image/png', 4, 3, 99, 'as cut', 1);
        INSERT INTO plan_change VALUES (1, 1, 1, {NOW}, 'me', 'part CR added');
        INSERT INTO device VALUES (1, 'tablet at the mill', 'editor', 'hash', {NOW}, NULL, NULL);
        INSERT INTO request_key (key, request_hash, answer, created_at) VALUES ('k1', 'h', '{{}}', {NOW});
        INSERT INTO latest_reading VALUES (1, 1, 5, 4, 25010000, 'good');
        INSERT INTO piece_operation VALUES (1, 1, 'done', 1, '');
        INSERT INTO piece_state VALUES (1, 1, 1, 'CR-1', 'none', 'finished', '', NULL, NULL, '');
    """,
}
LOG = ("entry", "piece", "run", "run_piece", "run_end", "reading", "event", "photo", "plan_change")


def make(file: Path, revision: str) -> None:
    """A file at a revision, with rows in every table it has."""
    upgrade(file, revision)
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA foreign_keys=ON")
    for each in REVISIONS[: REVISIONS.index(revision) + 1]:
        connection.executescript(ROWS[each])
    connection.close()


def schema(file: Path) -> dict[tuple[str, str], str]:
    connection = sqlite3.connect(file)
    try:
        return {
            (kind, name): re.sub(r"\s+", " ", text or "")
            for kind, name, text in connection.execute("SELECT type, name, sql FROM sqlite_master")
        }
    finally:
        connection.close()


def counts(file: Path) -> dict[str, int]:
    connection = sqlite3.connect(file)
    try:
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in tables}
    finally:
        connection.close()


def fingerprint(folder: Path) -> dict[str, str]:
    return {str(each): hashlib.sha256(each.read_bytes()).hexdigest() for each in folder.rglob("*") if each.is_file()}


def test_there_is_one_newest_revision_and_rows_for_each() -> None:
    assert len(SCRIPTS.get_heads()) == 1
    assert set(ROWS) == set(REVISIONS)


def test_the_newest_revision_is_known_without_loading_any() -> None:
    assert migrate.newest_revision() == HEAD
    assert [Path(script.path).name.partition("_")[0] for script in SCRIPTS.walk_revisions()] == REVISIONS[::-1]


@pytest.mark.parametrize("revision", REVISIONS)
def test_a_file_of_every_revision_comes_up_to_date_with_all_its_rows(tmp_path: Path, revision: str) -> None:
    old, new = tmp_path / "old.db", tmp_path / "new.db"
    make(old, revision)
    before = counts(old)
    assert all(before.values()), "a table without rows proves nothing"
    bring_up_to_date(old, tmp_path / "backups")
    assert {table: count for table, count in counts(old).items() if table in before} == before
    upgrade(new, "head")
    assert schema(old) == schema(new)
    connection = sqlite3.connect(old)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]
    connection.close()


def test_the_migrated_file_is_what_the_models_say(new_file: Path) -> None:
    engine = create_engine(url_of(new_file))
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, metadata) == []
    engine.dispose()


def test_the_checks_of_the_models_are_in_the_file(new_file: Path) -> None:
    """compare_metadata does not look at CHECK constraints."""
    text = " ".join(schema(new_file).values())
    wanted = {
        f"CONSTRAINT {constraint.name} CHECK ({constraint.sqltext})"
        for table in metadata.tables.values()
        for constraint in table.constraints
        if isinstance(constraint, CheckConstraint)
    }
    assert wanted
    assert {each for each in wanted if each not in text} == set()


def test_the_triggers_that_guard_the_log_are_there_and_no_others(new_file: Path) -> None:
    found = {name for kind, name in schema(new_file) if kind == "trigger"}
    assert found == {f"{table}_no_{verb}" for table in (*LOG, "limits") for verb in ("update", "delete", "replace")}


def test_a_start_with_nothing_makes_a_database_and_no_backup(tmp_path: Path) -> None:
    file = tmp_path / "new folder" / "matchmark.db"
    assert bring_up_to_date(file, tmp_path / "backups") is None
    assert revision_of(file) == HEAD
    assert [each.name for each in file.parent.iterdir()] == ["matchmark.db"]
    assert not (tmp_path / "backups").exists()


def test_a_file_that_is_up_to_date_is_left_alone(settings: Settings) -> None:
    before = fingerprint(settings.data)
    assert bring_up_to_date(settings.database, settings.backups) is None
    assert fingerprint(settings.data) == before


@pytest.fixture
def later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the migrations folder, used from now on, to which a test adds a later revision."""
    folder = tmp_path / "migrations"
    shutil.copytree(MIGRATIONS, folder, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(migrate, "MIGRATIONS", folder)
    return folder


def add_revision(folder: Path, body: str) -> None:
    (folder / "versions" / "9999_later.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n\n"
        f"revision = '9999'\ndown_revision = '{HEAD}'\n\n\ndef upgrade():\n"
        + "".join(f"    {line}\n" for line in body.splitlines())
    )


def test_an_older_file_is_backed_up_before_it_is_changed(later: Path, settings: Settings) -> None:
    settings.database.unlink()
    make(settings.database, HEAD)
    before = counts(settings.database)
    add_revision(later, "op.add_column('build', sa.Column('colour', sa.String()))")
    database = Database(settings)
    backup = database.backup_made
    database.close()
    assert backup is not None
    assert list(settings.backups.iterdir()) == [backup]
    assert counts(backup) == before
    assert revision_of(backup) == HEAD
    assert revision_of(settings.database) == "9999"
    assert "colour" in schema(settings.database)["table", "build"]


def test_a_backup_holds_what_is_still_in_the_write_ahead_log(later: Path, tmp_path: Path) -> None:
    file = tmp_path / "matchmark.db"
    make(file, HEAD)
    live = sqlite3.connect(file)  # kept open: what it writes stays in the -wal file
    live.execute("PRAGMA wal_autocheckpoint=0")
    live.execute("INSERT INTO plan_change VALUES (2, 1, 1, '2026-05-02 08:00:00', '', 'late')")
    live.commit()
    add_revision(later, "op.add_column('build', sa.Column('colour', sa.String()))")
    backup = bring_up_to_date(file, tmp_path / "backups")
    live.close()
    assert backup is not None
    assert counts(backup)["plan_change"] == 2


@pytest.mark.parametrize(
    "fault",
    [
        "raise RuntimeError('the disk is gone')",
        "op.execute('DELETE FROM nowhere')",
        # leaves a row that points at nothing
        "op.execute('DELETE FROM operation')",
        # a hand that the table's own check forbids
        """\
op.execute('PRAGMA ignore_check_constraints=ON')
op.execute("UPDATE part SET hand = 'third'")
op.execute('PRAGMA ignore_check_constraints=OFF')""",
    ],
)
def test_a_fault_half_way_through_a_migration_leaves_the_file_as_it_was(
    later: Path, settings: Settings, fault: str
) -> None:
    settings.database.unlink()
    make(settings.database, HEAD)
    before, rows = schema(settings.database), counts(settings.database)
    add_revision(
        later,
        "op.create_table('colour', sa.Column('id', sa.Integer(), primary_key=True))\n"
        "op.execute('DROP TRIGGER entry_no_update')\n"
        "op.execute(\"UPDATE build SET name = 'changed'\")\n" + fault,
    )
    with pytest.raises(Exception, match=r".+"):
        Database(settings)
    assert schema(settings.database) == before
    assert counts(settings.database) == rows
    assert revision_of(settings.database) == HEAD
    connection = sqlite3.connect(settings.database)
    assert connection.execute("SELECT name FROM build").fetchall() == [("proof press",)]
    connection.close()
    # and with the fault gone it starts again
    add_revision(later, "op.add_column('build', sa.Column('colour', sa.String()))")
    Database(settings).close()
    assert revision_of(settings.database) == "9999"


def test_a_fault_while_the_first_file_is_made_leaves_no_file_behind(later: Path, tmp_path: Path) -> None:
    add_revision(later, "raise RuntimeError('the power is gone')")
    file = tmp_path / "data" / "matchmark.db"
    with pytest.raises(RuntimeError):
        bring_up_to_date(file, tmp_path / "backups")
    assert not file.exists()
    add_revision(later, "pass")
    bring_up_to_date(file, tmp_path / "backups")
    assert revision_of(file) == "9999"


def test_a_file_of_a_newer_version_is_refused_with_its_bytes_unharmed(settings: Settings) -> None:
    connection = sqlite3.connect(settings.database)
    connection.execute("UPDATE alembic_version SET version_num = 'from the future'")
    connection.commit()
    connection.close()
    before = settings.database.read_bytes()
    with pytest.raises(NewerFile, match=r"from the future.*Install the newer version"):
        Database(settings)
    assert settings.database.read_bytes() == before
    assert not settings.backups.exists()


def another_program(statements: str) -> bytes:
    connection = sqlite3.connect(":memory:")
    connection.executescript(statements)
    return connection.serialize()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "is empty"),
        (b"PK\x03\x04 something zipped, and long enough to have a header" * 40, "cannot be read as a database"),
        (b"SQLite format 3\x00" + b"\xff" * 5000, "cannot be read as a database"),
        (another_program("CREATE TABLE recipes (id INTEGER)"), "not one of Matchmark's"),
        (
            another_program(
                "CREATE TABLE alembic_version (version_num TEXT); INSERT INTO alembic_version VALUES ('a1')"
            ),
            "not one of Matchmark's",
        ),
        (another_program("PRAGMA user_version=1"), "not one of Matchmark's"),
    ],
    ids=["empty", "no database", "only the header", "another program", "another program with alembic", "no tables"],
)
def test_a_file_that_is_not_ours_is_told_and_left_as_it_is(settings: Settings, content: bytes, told: str) -> None:
    settings.database.write_bytes(content)
    with pytest.raises(NotADatabase, match=told) as caught:
        Database(settings)
    assert str(settings.database) in str(caught.value)
    assert settings.database.read_bytes() == content
    assert {each.name for each in settings.data.iterdir()} <= {"matchmark.db", "in-use.lock"}


def test_a_missing_file_with_its_write_ahead_log_left_behind_is_told(settings: Settings) -> None:
    settings.database.rename(settings.data / "moved.db")
    (settings.data / "matchmark.db-wal").write_bytes(b"the last of what was saved")
    with pytest.raises(NotADatabase, match="put the file back"):
        Database(settings)
    assert not settings.database.exists()


@pytest.mark.parametrize("name", ["has a ? in it", "100% done", "a#b", "größe", "a b"])
def test_a_data_folder_may_have_any_name(tmp_path: Path, name: str) -> None:
    settings = Settings(data=tmp_path / name)
    Database(settings).close()
    assert {each.name for each in tmp_path.iterdir()} == {name}
    assert revision_of(settings.database) == HEAD
