"""The command line: check, backup, rebuild and plan import, and trouble told in one line."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from server.cli import app
from server.log.perform import perform
from server.log.photos import AddPhoto
from server.settings import Settings
from server.store.backup import BackupNotSound
from server.store.database import Database
from server.store.photo_files import PhotoFiles
from server.store.picture import read_picture
from tests.pictures import jpeg, png
from tests.shop import Shop

ROOT = Path(__file__).parents[1]
SHEETS = ROOT / "tests" / "records" / "sheets"


def matchmark(*words: object) -> Result:
    """The command in this process; a fault of the program is raised, not swallowed."""
    return CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)


def as_a_program(*words: object) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own, as it is installed."""
    run = [sys.executable, "-c", "from server.cli import run; run()", *(str(word) for word in words)]
    return subprocess.run(run, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)


@dataclass(frozen=True, slots=True)
class Outside:
    """What another program sees in the file."""

    file: Path

    def ask(self, statement: str) -> list[tuple[object, ...]]:
        connection = sqlite3.connect(self.file)
        try:
            found = connection.execute(statement).fetchall()
            connection.commit()
        finally:
            connection.close()
        return found


@pytest.fixture
def folder(settings: Settings) -> Path:
    """A data folder with a build in it that has a piece with a reading; closed."""
    database = Database(settings)
    shop = Shop(database)
    part = shop.part(shop.build())
    operation = shop.operation(part)
    dimension = shop.dimension(part, operation_number=10)
    piece = shop.piece(part)
    shop.run(operation, piece)
    shop.read(piece, dimension, "25.01")
    database.close()
    return settings.data


@pytest.fixture
def outside(settings: Settings) -> Outside:
    return Outside(settings.database)


def test_check_finds_a_sound_database_sound(folder: Path) -> None:
    found = matchmark("check", "--data", folder)
    assert found.exit_code == 0
    assert found.stdout == "Sound. 3 kept rows are the same as those rebuilt from the log.\n"


def test_check_tells_which_kept_rows_are_wrong_and_rebuild_mends_them(folder: Path, outside: Outside) -> None:
    before = outside.ask("SELECT * FROM piece_state")
    outside.ask("UPDATE piece_state SET state = 'scrap'")
    found = matchmark("check", "--data", folder)
    assert found.exit_code == 1
    assert found.stdout.startswith("NOT THE SAME: piece_state: ")
    assert "matchmark rebuild" in found.stdout
    assert outside.ask("SELECT state FROM piece_state") == [("scrap",)]  # looking changed nothing
    assert matchmark("rebuild", "--data", folder).stdout == "Rebuilt from the log.\n"
    assert outside.ask("SELECT * FROM piece_state") == before
    assert matchmark("check", "--data", folder).exit_code == 0


def test_check_tells_a_row_that_points_at_nothing(folder: Path, outside: Outside) -> None:
    outside.ask("INSERT INTO latest_reading VALUES (1, 999, 4, 4, 1, 'good')")
    found = matchmark("check", "--data", folder)
    assert found.exit_code == 1
    assert "NOT SOUND: a row of latest_reading points at a row of dimension that is not there" in found.stdout


def photographed(settings: Settings) -> list[Path]:
    """Two photographs more in the folder, and their files."""
    database = Database(settings)
    files = PhotoFiles(settings)
    try:
        for data in (jpeg(6), png()):
            picture = read_picture(data)
            sha256 = files.put(picture)
            fields = {"media_type": picture.media_type, "width": 1, "height": 1, "size_bytes": len(picture.data)}
            perform(database, AddPhoto(sha256=sha256, piece_id=1, **fields), sha256)
    finally:
        database.close()
    return sorted(settings.photos.glob("*/*"))


def unpacked(backup: Path, into: Path) -> Path:
    """An empty data folder with a backup in it."""
    with zipfile.ZipFile(backup) as archive:
        archive.extractall(into)
    return into


def test_a_backup_is_everything_in_one_file_and_is_put_back_by_unpacking_it(
    folder: Path, settings: Settings, outside: Outside, tmp_path: Path
) -> None:
    photos = photographed(settings)
    target = tmp_path / "kept" / "copy.zip"
    found = matchmark("backup", target, "--data", folder)
    assert found.exit_code == 0
    assert found.stdout == f"Copied to {target} and proved sound.\nIn it: the database and 2 photographs.\n"
    assert [each.name for each in target.parent.iterdir()] == ["copy.zip"]
    put_back = Settings(unpacked(target, tmp_path / "put back"))
    assert Outside(put_back.database).ask("SELECT * FROM entry") == outside.ask("SELECT * FROM entry")
    there = sorted(put_back.photos.glob("*/*"))
    assert [each.read_bytes() for each in there] == [each.read_bytes() for each in photos]
    found = matchmark("check", "--data", put_back.data)
    assert found.exit_code == 0
    assert "Photographs: 2, each the bytes that were kept." in found.stdout
    database = Database(put_back)  # and it goes on from there
    Shop(database).build("after it was put back")
    database.close()


def test_a_backup_without_a_name_goes_to_the_folders_own_backups(
    folder: Path, settings: Settings, tmp_path: Path
) -> None:
    assert matchmark("backup", "--data", folder).exit_code == 0
    [made] = settings.backups.iterdir()
    assert made.suffix == ".zip"
    put_back = Settings(unpacked(made, tmp_path / "put back"))
    assert Outside(put_back.database).ask("SELECT count(*) FROM piece") == [(1,)]


def test_a_backup_can_be_made_while_the_server_runs(folder: Path, settings: Settings, tmp_path: Path) -> None:
    database = Database(settings)
    try:
        Shop(database).build("made while open")
        assert matchmark("backup", tmp_path / "copy.zip", "--data", folder).exit_code == 0
    finally:
        database.close()
    put_back = Settings(unpacked(tmp_path / "copy.zip", tmp_path / "put back"))
    assert ("made while open",) in Outside(put_back.database).ask("SELECT name FROM build")


def test_a_backup_says_which_photographs_could_not_be_in_it(folder: Path, settings: Settings, tmp_path: Path) -> None:
    gone, damaged = photographed(settings)
    gone.unlink()
    damaged.write_bytes(b"other bytes")
    found = matchmark("backup", tmp_path / "copy.zip", "--data", folder)
    assert found.exit_code == 1
    for each in (gone, damaged):
        assert f"NOT IN IT: photos/{each.parent.name}/{each.name}: " in found.stderr
    put_back = unpacked(tmp_path / "copy.zip", tmp_path / "put back")  # all that there was is in it
    assert matchmark("check", "--data", put_back).stdout.count("NOT THERE") == 2


def test_a_backup_that_does_not_read_back_is_told_and_not_kept(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = zipfile.ZipFile.writestr

    def other_bytes(archive: zipfile.ZipFile, name: str, data: bytes, *more: int) -> None:
        written(archive, name, data[:-1] + b"x", *more)

    photographed(Settings(folder))
    monkeypatch.setattr(zipfile.ZipFile, "writestr", other_bytes)
    with pytest.raises(BackupNotSound, match="does not read back"):
        matchmark("backup", tmp_path / "copy.zip", "--data", folder)
    assert [each.name for each in tmp_path.iterdir() if each.name != "data"] == []


def test_a_backup_of_a_damaged_database_is_told_in_one_line_and_not_kept(
    folder: Path, settings: Settings, tmp_path: Path
) -> None:
    with settings.database.open("r+b") as file:
        file.seek(2 * 4096)  # the first two pages stay: it still looks like a database of ours
        file.write(b"\xff" * 8 * 4096)
    ran = as_a_program("backup", tmp_path / "copy.zip", "--data", folder)
    assert ran.returncode == 1
    assert ran.stdout == ""
    assert len(ran.stderr.splitlines()) == 1, ran.stderr
    assert not (tmp_path / "copy.zip").exists()


def test_a_backup_is_not_called_what_it_is_not(folder: Path, tmp_path: Path) -> None:
    found = matchmark("backup", tmp_path / "copy.db", "--data", folder)
    assert found.exit_code == 1
    assert ".zip" in found.stderr
    assert not (tmp_path / "copy.db").exists()


def test_a_backup_never_takes_the_place_of_a_file(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.zip"
    target.write_text("the only copy of something")
    found = matchmark("backup", target, "--data", folder)
    assert found.exit_code == 1
    assert found.stderr == f"{target} is there already; it was left as it is.\n"
    assert target.read_text() == "the only copy of something"


def test_a_backup_of_a_folder_with_nothing_in_it_makes_nothing(tmp_path: Path) -> None:
    nowhere = tmp_path / "nowhere"
    found = matchmark("backup", tmp_path / "copy.zip", "--data", nowhere)
    assert found.exit_code == 1
    assert found.stderr == f"There is no database in {nowhere}.\n"
    assert not nowhere.exists()
    assert not (tmp_path / "copy.zip").exists()


def test_check_tells_photographs_that_are_lost(folder: Path, settings: Settings) -> None:
    gone, damaged = photographed(settings)
    gone.unlink()
    damaged.write_bytes(damaged.read_bytes()[:-1])
    found = matchmark("check", "--data", folder)
    assert found.exit_code == 1
    assert f"NOT THERE: photos/{gone.parent.name}/{gone.name}: " in found.stdout
    assert f"DAMAGED: photos/{damaged.parent.name}/{damaged.name}: " in found.stdout


def test_a_photograph_left_unlogged_by_a_crash_is_told_and_is_no_fault(folder: Path, settings: Settings) -> None:
    """The file is written first: what a crash can leave is a file without its row, never a row without its file."""
    sha256 = PhotoFiles(settings).put(read_picture(jpeg()))
    half_written = settings.photos / sha256[:2] / ".new-0123456789abcdef"
    half_written.write_bytes(b"\xff\xd8")
    found = matchmark("check", "--data", folder)
    assert found.exit_code == 0
    assert f"photos/{sha256[:2]}/{sha256}.jpg is a photograph that the log does not name" in found.stdout
    assert "Nothing is lost" in found.stdout
    assert f"{half_written.name} is no photograph of the log; it may be deleted" in found.stdout
    assert "Sound." in found.stdout


@pytest.mark.parametrize("command", ["check", "rebuild"])
def test_a_folder_with_no_database_is_told_and_not_made(tmp_path: Path, command: str) -> None:
    nowhere = tmp_path / "nowhere"
    found = matchmark(command, "--data", nowhere)
    assert found.exit_code == 1
    assert found.stderr == f"There is no database in {nowhere}.\n"
    assert not nowhere.exists()


def test_good_sheets_are_taken_and_told(tmp_path: Path) -> None:
    data = tmp_path / "data"
    sheets = [SHEETS / "operations.csv", SHEETS / "dimensions.csv"]
    found = matchmark("plan", "import", *sheets, "--build", "proof press", "--data", data)
    assert found.exit_code == 0, found.output
    seen = Outside(data / "matchmark.db")
    operations = seen.ask("SELECT count(*) FROM operation")[0][0]
    dimensions = seen.ask("SELECT count(*) FROM dimension")[0][0]
    assert found.stdout.splitlines()[0] == "Build proof press started."
    assert f"{sheets[0]}: operations: {operations} new." in found.stdout
    assert f"{sheets[1]}: dimensions: {dimensions} new." in found.stdout
    assert seen.ask("SELECT name, unit FROM build") == [("proof press", "mm")]
    again = matchmark("plan", "import", *sheets, "--build", "proof press", "--data", data)
    assert again.exit_code == 0
    assert f"{sheets[1]}: dimensions: {dimensions} unchanged." in again.stdout
    assert seen.ask("SELECT count(*) FROM build") == [(1,)]
    assert matchmark("check", "--data", data).exit_code == 0


def test_a_sheet_with_errors_takes_nothing_and_tells_every_cell(tmp_path: Path) -> None:
    data = tmp_path / "data"
    sheet = SHEETS / "errors-in-most-rows.csv"
    found = matchmark("plan", "import", sheet, "--build", "proof press", "--data", data)
    assert found.exit_code == 1
    assert f"{sheet}: nothing was taken." in found.stderr
    told = [line for line in found.stderr.splitlines() if line.startswith("  line ")]
    for line, heading, read in (
        (2, "Requirement", "25 H77"),
        (3, "Requirement", "10 +0.1/+0.2"),
        (4, "Requirement", "thirty"),
        (5, "Unit", "furlong"),
        (6, "Op", "ten"),
        (6, "Cutting makes it", "sideways"),
        (6, "Requirement", "50.1..49.9"),
        (8, "What", ""),
    ):
        assert any(each.startswith(f"  line {line}, {heading}: “{read}”: ") for each in told), (line, heading, told)
    seen = Outside(data / "matchmark.db")
    assert seen.ask("SELECT count(*) FROM part") == seen.ask("SELECT count(*) FROM dimension") == [(0,)]


def test_a_sheet_in_the_way_does_not_keep_the_others_out(tmp_path: Path) -> None:
    data = tmp_path / "data"
    sheets = [tmp_path / "missing.csv", SHEETS / "errors-in-most-rows.csv", SHEETS / "dimensions.csv"]
    found = matchmark("plan", "import", *sheets, "--build", "proof press", "--data", data)
    assert found.exit_code == 1
    assert f"{sheets[0]}: cannot be read: No such file or directory" in found.stderr
    assert f"{sheets[1]}: nothing was taken." in found.stderr
    assert Outside(data / "matchmark.db").ask("SELECT count(*) > 0 FROM dimension") == [(1,)]


def test_a_unit_nobody_measures_in_is_told_and_no_build_is_started(tmp_path: Path) -> None:
    data = tmp_path / "data"
    told = as_a_program(
        "plan", "import", SHEETS / "dimensions.csv", "--build", "press", "--unit", "furlong", "--data", data
    )
    assert told.returncode == 1
    assert "“furlong”: it is not one of the choices. Accepted: mm or in." in told.stderr
    assert Outside(data / "matchmark.db").ask("SELECT count(*) FROM build") == [(0,)]


@pytest.mark.parametrize("words", [("check",), ("rebuild",), ("serve", "--no-browser", "--port", "8739")])
def test_a_folder_in_use_is_told_in_one_line(folder: Path, settings: Settings, words: tuple[str, ...]) -> None:
    database = Database(settings)
    try:
        told = as_a_program(*words, "--data", folder)
    finally:
        database.close()
    assert told.returncode not in (0, None)
    assert told.stdout.count("Traceback") == told.stderr.count("Traceback") == 0
    assert "is already open in another Matchmark" in told.stderr
    assert len(told.stderr.strip().splitlines()) == 1


def test_a_file_that_is_no_database_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "matchmark.db").write_text("no database at all, but a letter" * 50)
    told = as_a_program("check", "--data", tmp_path)
    assert told.returncode == 1
    assert "Traceback" not in told.stderr
    assert len(told.stderr.strip().splitlines()) == 1
    assert (tmp_path / "matchmark.db").read_text().startswith("no database at all")


def test_without_a_command_it_says_what_it_can_do() -> None:
    found = matchmark()
    for command in ("serve", "check", "backup", "rebuild", "plan"):
        assert command in found.output
