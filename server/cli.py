"""The command line: serve, check, backup, and plan import."""

from __future__ import annotations

import base64
import contextlib
import logging
import socket
import sqlite3
import sys
import threading
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer
from sqlalchemy import Connection, select

from server.addresses import EVERY_ADDRESS, is_loopback, shop_addresses
from server.app import create_app
from server.log.kept import kept_and_rebuilt, rebuild, refresh
from server.log.photos import names_of_files
from server.plan.builds import AddBuild
from server.plan.tables import Build
from server.records.demo import put_demo_where_empty
from server.records.load_plan import LoadPlan, Preview, SheetRequest, preview
from server.settings import DEFAULT_PORT, Settings, demo_data_folder, own_data_folder
from server.store.action import Refused
from server.store.backup import ENDING, BackupNotSound, make_backup
from server.store.base import now
from server.store.database import Database
from server.store.lock import InUse
from server.store.migrate import NewerFile, NotADatabase
from server.store.photo_files import PhotoFiles
from server.store.sqlite import integrity
from server.store.writer import NotSaved
from server.trade.errors import TradeError
from server.trade.handbook.book import calculation, calculations
from server.web.api.handbook import answer_to
from server.web.serving import serve_until_ended

app = typer.Typer(
    no_args_is_help=True, add_completion=False, help="Matchmark: plan, log and measurements of a one-person shop."
)
plan_app = typer.Typer(no_args_is_help=True, help="The plan of a build.")
app.add_typer(plan_app, name="plan")

DataOption = Annotated[Path | None, typer.Option("--data", help="Folder of the data; without it the usual place.")]
DemoOption = Annotated[bool, typer.Option("--demo", help="The invented demo build, in a data folder of its own.")]


def run() -> None:
    """Entry point. Trouble a builder can mend is told in one line, without a traceback."""
    try:
        app()
    except (InUse, NewerFile, NotADatabase, BackupNotSound, NotSaved, OSError, sqlite3.DatabaseError) as error:
        _stop(str(error))


@app.command()
def serve(
    data: DataOption = None,
    port: Annotated[int, typer.Option(min=1, max=65535)] = DEFAULT_PORT,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    lan: Annotated[bool, typer.Option("--lan", help="Open to the shop: every address of this computer.")] = False,
    https: Annotated[bool, typer.Option("--https", help="Offer https as well, on the next port.")] = False,
    name: Annotated[list[str] | None, typer.Option(help="Another name this server is asked for by.")] = None,
    demo: DemoOption = False,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open a browser.")] = True,
) -> None:
    """Start the server and say where it is."""
    folder = _folder(data, demo)
    host = "0.0.0.0" if lan else host
    names = tuple(each for each in (host, *(name or ())) if each not in EVERY_ADDRESS)
    https_port = port + 1 if https else None
    settings = Settings(folder, host, port, https_port, demo, allowed_hosts=names)
    for each in filter(None, (port, https_port)):
        if each > 65535 or _is_taken(host, each):
            _stop(f"port {each} is taken by another program, or there is none; choose another with --port")
    # Opened before anything is promised: a folder in use, or a file that cannot be read, is told in one line.
    with _open(settings) as database:
        if demo:
            put_demo_where_empty(database)
    here = host if is_loopback(host) else "127.0.0.1"  # where this computer needs no pairing
    address = f"http://{f'[{here}]' if ':' in here else here}:{port}/"
    typer.echo(f"Matchmark is at {address}")
    _say_where_in_the_shop(settings)
    typer.echo(f"The data is in {folder}. End with Ctrl-C.")
    if browser:
        threading.Timer(1.0, _open_browser, [address]).start()
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(name)s %(levelname)s %(message)s")
    serve_until_ended(create_app(settings), settings)


@app.command()
def check(data: DataOption = None, demo: DemoOption = False) -> None:
    """Prove the database sound, that what is kept ready equals what the log says, and every photograph whole."""
    settings = _existing(data, demo)
    with _open(settings) as database:
        sound = integrity(settings.database)
        kept, rebuilt = database.write(kept_and_rebuilt)
        with database.read() as connection:
            named = names_of_files(connection)
        photos = PhotoFiles(settings).check(named)
    for complaint in sound:
        typer.echo(f"NOT SOUND: {complaint}")
    for lost in photos.missing:
        typer.echo(f"NOT THERE: photos/{lost}: the log names this photograph; put it back from a backup")
    for lost in photos.damaged:
        typer.echo(f"DAMAGED: photos/{lost}: not the bytes that were kept; put it back from a backup")
    wrong = [name for name in kept if kept[name] != rebuilt[name]]
    for name in wrong:
        typer.echo(f"NOT THE SAME: {name}: kept and rebuilt differ; mend with: matchmark rebuild")
    for left in photos.unnamed:
        typer.echo(
            f"Note: photos/{left} is a photograph that the log does not name: the power or the program went before it "
            "was logged. Nothing is lost; add it again if it is wanted, or delete the file"
        )
    for left in (*photos.half_written, *photos.strange):
        typer.echo(f"Note: photos/{left} is no photograph of the log; it may be deleted")
    if sound or wrong or photos.missing or photos.damaged:
        raise typer.Exit(1)
    count = sum(len(rows) for rows in kept.values())
    typer.echo(f"Sound. {count} kept rows are the same as those rebuilt from the log.")
    if named:
        typer.echo(f"Photographs: {len(named)}, each the bytes that were kept.")


@app.command(name="rebuild")
def rebuild_kept(data: DataOption = None, demo: DemoOption = False) -> None:
    """Make everything that is kept ready again from the log."""
    with _open(_existing(data, demo)) as database:
        database.write(rebuild)
    typer.echo("Rebuilt from the log.")


@app.command()
def backup(
    file: Annotated[Path | None, typer.Argument(help="Where to; without it, the data folder's backups.")] = None,
    data: DataOption = None,
    demo: DemoOption = False,
) -> None:
    """Copy database and photographs into one .zip, while the server runs or not, and prove the copy sound.

    To put it back, unpack it into an empty data folder.
    """
    settings = _existing(data, demo)
    target = file or settings.backups / f"{datetime.now(UTC):%Y%m%d-%H%M%S}{ENDING}"
    if target.suffix.lower() != ENDING:
        _stop(f"a backup is one {ENDING} file with the database and the photographs; give {target} such an ending")
    if target.exists():
        _stop(f"{target} is there already; it was left as it is")
    made = make_backup(settings, target)
    for lost in made.lost:
        typer.echo(f"NOT IN IT: photos/{lost}: the file is gone or damaged in the data folder", err=True)
    typer.echo(f"Copied to {target} and proved sound.")
    typer.echo(f"In it: the database and {made.photos} photographs.")
    if made.lost:
        raise typer.Exit(1)


@plan_app.command(name="import")
def import_plan(
    files: Annotated[list[Path], typer.Argument(help="Sheets of dimensions or operations (CSV).")],
    build: Annotated[str, typer.Option("--build", help="Name of the build; made where there is none.")],
    unit: Annotated[str, typer.Option(help="Unit of a new build: mm or in.")] = "mm",
    data: DataOption = None,
    demo: DemoOption = False,
) -> None:
    """Load sheets into the plan. Each is taken whole or not at all; every cell that stands in the way is told."""
    with _open(Settings(_folder(data, demo))) as database:
        with database.read() as connection:
            build_id = connection.execute(select(Build.id).where(Build.name == build)).scalar()
        failed = False
        for file in files:
            taken = _load(database, build_id, file, {"name": build, "unit": unit})
            failed |= taken is None
            build_id = taken or build_id
    if failed:
        raise typer.Exit(1)


@app.command()
def calc(
    name: Annotated[str, typer.Argument(help="Which calculation; without one, all are listed.")] = "",
    inputs: Annotated[list[str] | None, typer.Argument(help="Its inputs: thread=M8 percent=75")] = None,
    unit: Annotated[str, typer.Option(help="Unit of lengths without one, and of the answer: mm or in.")] = "mm",
) -> None:
    """Work out a page of the handbook."""
    if not name:
        for each in calculations():
            typer.echo(f"{each.id:22} {each.title}")
        return
    if unit not in ("mm", "in"):
        _stop(f"the unit {unit!r} is not one used here; mm or in")
    try:
        found = calculation(name)
    except TradeError as error:
        _stop(f"{error.why} ({name}); {error.accepts}")
    typed = {}
    for each in inputs or []:
        key, equals, value = each.partition("=")
        if not equals:
            names = " ".join(f"{asked.word}=…" for asked in found.inputs)
            _stop(f"{each!r} is not an input; write {names}")
        typed[key] = value
    answer = answer_to(found, typed, "in" if unit == "in" else "mm")
    for problem in answer["problems"]:
        said = f"{problem['field']}: “{problem['read']}”: {problem['why']}. Accepted: {problem['accepts']}."
        typer.echo(said, err=True)
    if answer["problems"]:
        raise typer.Exit(1)
    given = [(each.label, typed.get(each.word) or each.default) for each in found.inputs]
    typer.echo("For " + "; ".join(f"{label} {value}" for label, value in given if value) + ":")
    for output in answer["outputs"]:
        note = f"  ({output['note']})" if output["note"] else ""
        typer.echo(f"{output['label']}: {output['said']}{note}")
    typer.echo(f"Formula: {found.formula}\nSource: {found.source}")
    if found.caution:
        typer.echo(f"Caution: {found.caution}")


def _load(database: Database, build_id: int | None, file: Path, new_build: dict[str, str]) -> int | None:
    """Take one sheet into the build, which is started with its first sheet: a slip in a name leaves no empty build.
    Returns the build's number, or None when nothing was taken and why not was told."""
    try:
        sheet = {"file": base64.b64encode(file.read_bytes()).decode()}
    except OSError as error:
        typer.echo(f"{file}: cannot be read: {error.strerror}", err=True)
        return None

    def take(connection: Connection) -> tuple[int, Preview, dict[str, Any]]:
        into = build_id or AddBuild.read(new_build).carry_out(connection, now()).answer["build_id"]
        found = preview(connection, SheetRequest.read({"build_id": into, **sheet}))
        effect = LoadPlan.read({"build_id": into, **sheet}).carry_out(connection, now())
        refresh(connection, effect.pieces, effect.parts)
        return into, found, effect.answer

    try:
        into, found, answer = database.write(take)
    except Refused as refused:
        typer.echo(f"{file}: nothing was taken.", err=True)
        for each in refused.problems:
            accepts = f" Accepted: {each.accepts}." if each.accepts else ""
            typer.echo(f"  {each.field}: “{each.read}”: {each.why}.{accepts}", err=True)
        return None
    if build_id is None:
        typer.echo(f"Build {new_build['name']} started.")
    for note in found.rows.notes if found.rows else ():
        typer.echo(f"{file}: note: {note.text}")
    rows = ", ".join(f"{count} {word}" for word, count in answer["rows"].items() if count)
    typer.echo(f"{file}: {answer['kind']}: {rows}.")
    return int(into)


def _folder(data: Path | None, demo: bool) -> Path:
    return (data or (demo_data_folder() if demo else own_data_folder())).expanduser().resolve()


def _existing(data: Path | None, demo: bool) -> Settings:
    """The settings of a folder that has a database in it: a slip in its name must not make a new one."""
    settings = Settings(_folder(data, demo))
    if not settings.database.exists():
        _stop(f"there is no database in {settings.data}")
    return settings


@contextmanager
def _open(settings: Settings) -> Iterator[Database]:
    database = Database(settings)
    try:
        yield database
    finally:
        database.close()


def _is_taken(host: str, port: int) -> bool:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        if sys.platform != "win32":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            return True
    return False


def _say_where_in_the_shop(settings: Settings) -> None:
    """Where other devices find the server, and how they are let in."""
    if is_loopback(settings.host):
        if settings.https_port:
            typer.echo(f"With https: https://localhost:{settings.https_port}/")
        return
    found = shop_addresses(settings.host)
    for each in found:
        secure = f" or https://{each}:{settings.https_port}/" if settings.https_port else ""
        typer.echo(f"In the shop: http://{each}:{settings.port}/{secure}")
    if found:
        typer.echo("Each device is paired first: open the page Devices here, on this computer.")
    else:
        typer.echo("This computer has no address that another device could reach just now.")


def _open_browser(address: str) -> None:
    with contextlib.suppress(webbrowser.Error):  # no browser here: the address was printed
        webbrowser.open(address)


def _stop(message: str) -> NoReturn:
    typer.echo(message[:1].upper() + message[1:] + ".", err=True)
    raise SystemExit(1)


if __name__ == "__main__":
    run()
