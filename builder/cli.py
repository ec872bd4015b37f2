"""The commands: arguments, streams and exit codes."""

from __future__ import annotations

import datetime as dt
import json
import re
import sys
import time
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from builder import __version__
from builder.core.errors import Problem, Severity, SoakbookError, nearest
from builder.core.words import count, listed, listing

if TYPE_CHECKING:
    from rich.console import Console

    from builder.archive.bundle import Pad
    from builder.commands.follow import Report
    from builder.commands.reduce_archive import Progress

FINE, BAD_INPUT, USAGE, DEFECT, STOPPED = 0, 1, 2, 3, 130

_PAIR = 2
_HOURS, _MINUTES = 24, 60
_FOLDER = click.Path(file_okay=False, path_type=Path)
_folder = click.argument("folder", metavar="[DIR]", default=".", type=_FOLDER)
_json = click.option("--json", "as_json", is_flag=True, help="Print a record that a program can read.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="soakbook")
def commands() -> None:
    """Turn cooler tests on graphics cards into a public archive of comparable results."""


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and exit: 0 fine, 1 the input has problems, 2 usage, 3 a defect in this program."""
    sys.exit(run(arguments))


def run(arguments: list[str] | None = None) -> int:
    """Run the command line and return the exit code."""
    try:
        result = commands.main(args=arguments, prog_name="soakbook", standalone_mode=False)
    except click.ClickException as problem:
        problem.show()
        return USAGE
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        return STOPPED
    except SoakbookError as problem:
        say_problems(problem.problems)
        return BAD_INPUT
    except OSError as problem:
        click.echo(f"error[system] {problem.filename or 'output'}: {problem.strerror or problem}", err=True)
        return BAD_INPUT
    except Exception:  # noqa: BLE001 - the last door: a defect is shown whole, so that it can be reported
        traceback.print_exc()
        click.echo("This is a defect in Soakbook, not in your files. Nothing was changed.", err=True)
        return DEFECT
    return result if isinstance(result, int) else FINE


# --- streams -------------------------------------------------------------------------------------------------------


def say_problems(problems: Iterable[Problem]) -> None:
    """Print problems to standard error, each in colour of its severity, with a count at the end."""
    found = list(problems)
    colours = {Severity.ERROR: "red", Severity.WARNING: "yellow", Severity.NOTICE: "cyan"}
    for problem in found:
        head, *rest = str(problem).split("\n")
        label, _, text = head.partition(" ")
        click.echo(click.style(label, fg=colours[problem.severity]) + f" {text}", err=True)
        for line in rest:
            click.echo(line, err=True)
    if found:
        counts = {severity: sum(p.severity is severity for p in found) for severity in Severity}
        click.echo(", ".join(count(number, severity) for severity, number in counts.items() if number), err=True)


def _print_json(record: Any) -> None:  # noqa: ANN401 - whatever JSON holds
    click.echo(json.dumps(record, ensure_ascii=False, allow_nan=False, indent=2))


_WIDEST = 1000  # characters of a line that is not fitted to the terminal


def _console(*, err: bool = False) -> Console:
    from rich.console import Console

    console = Console(stderr=err, highlight=False)
    return console if console.is_terminal else Console(stderr=err, highlight=False, width=80, no_color=True)


@contextmanager
def _progress() -> Iterator[Progress]:
    """Yield a progress reporter: a bar on a terminal, silence elsewhere."""
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    console = _console(err=True)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Bar(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        tasks: dict[str, Any] = {}

        def report(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bar.add_task(stage, total=total)
            bar.update(tasks[stage], completed=done, total=total)

        yield report


# --- values of options ---------------------------------------------------------------------------------------------


def _clock(_context: click.Context, _option: click.Parameter, text: str | None) -> dt.time | None:
    if text is None:
        return None
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", text)
    if match is None or int(match[1]) >= _HOURS or int(match[2]) >= _MINUTES:
        raise click.BadParameter(f'expected a time of day as 10:30, found "{text}"')
    return dt.time(int(match[1]), int(match[2]))


def _pads(_context: click.Context, _option: click.Parameter, texts: tuple[str, ...]) -> tuple[Pad, ...]:
    from builder.archive.bundle import Pad

    pads = []
    for text in texts:
        try:
            where, thickness, *gap = (part.strip() for part in text.split(":"))
            pads.append(Pad(where=where, thickness_mm=float(thickness), gap_mm=float(gap[0]) if gap else None))
        except ValueError:
            raise click.BadParameter(f'expected a pad as memory:1.5:1.3 in mm, found "{text}"') from None
    return tuple(pads)


# --- commands ------------------------------------------------------------------------------------------------------


@commands.command(short_help="Make a new archive with one example bundle.")
@click.argument("folder", metavar="DIR", type=_FOLDER)
def start(folder: Path) -> None:
    """Make a new archive in DIR with one example bundle; `check` and `publish` pass on it at once."""
    from builder.commands.start import start_archive

    files = start_archive(folder)
    click.echo(f"{len(files)} files in {folder}. Next: soakbook publish {folder}", err=True)


@commands.command(short_help="List a log's columns, with a reader block for the bench file.")
@click.argument("log", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@_json
def inspect(log: Path, as_json: bool) -> None:
    """Read LOG, list its columns, and print a reader block to paste into the bench file."""
    from builder.commands.inspect import inspect_log

    inspected = inspect_log(log)
    if as_json:
        _print_json(inspected.record)
        return
    # As wide as its columns are: what a terminal wraps can still be read, what is cut off cannot.
    console = _console()
    console.width = _WIDEST
    console.print(inspected.view)
    click.echo(inspected.reader_block, nl=False)


@commands.command(short_help="Plan a session: a new bundle, and a run sheet to print.")
@click.argument("folder", metavar="DIR", type=_FOLDER)
@click.option("--card", required=True, help="Id of the card, the name of its file without .yaml.")
@click.option("--cooler", required=True, help="Id of the cooler.")
@click.option("--protocol", required=True, help="Id of the protocol.")
@click.option("--bench", help="Id of the bench; the only one, or that of the latest bundle, when absent.")
@click.option("--start", callback=_clock, metavar="HH:MM", help="When the first run begins.")
@click.option("--date", "tested", type=click.DateTime(["%Y-%m-%d"]), help="The day of the session; today when absent.")
@click.option("--mounts", type=click.IntRange(1, 20), help="Number of mounts; the protocol's when absent.")
@click.option(
    "--pad",
    "pads",
    multiple=True,
    callback=_pads,
    metavar="WHERE:THICKNESS:GAP",
    help="A pad, in mm; give it once for each.",
)
def sheet(folder: Path, tested: dt.datetime | None, **options: Any) -> None:  # noqa: ANN401 - as click gives them
    """Write a new bundle with a line for each run, and a run sheet to print."""
    from builder.commands.sheet import SessionRequest, prepare_session

    day = tested.date() if tested else dt.date.today()  # noqa: DTZ011 - the day on the tester's wall
    prepared = prepare_session(folder, SessionRequest(tested=day, **options))
    for remark in prepared.remarks:
        click.echo(remark, err=True)
    click.echo(f"Bundle {prepared.bundle}: edit {prepared.bundle_file}, print {prepared.sheet}", err=True)


@commands.command()
@_folder
@_json
def check(folder: Path, as_json: bool) -> int:
    """Read everything in DIR and report every problem at once."""
    from builder.commands.check import check_archive

    with _progress() as progress:
        checked = check_archive(folder, progress)
    if as_json:
        _print_json(checked.record)
    else:
        say_problems(checked.problems)
        if checked.sound:
            click.echo(f"{count(checked.bundles, 'bundle')} read, no errors.", err=True)
    return FINE if checked.sound else BAD_INPUT


@commands.command(short_help="Answer at the bench: verdicts and figures of a bundle.")
@click.argument("folder", metavar="DIR", type=_FOLDER)
@click.argument("bundle")
@click.option("--run", "only", metavar="MOUNT/POINT", help="One run alone, such as m1/stock.")
@click.option("--follow", "followed", metavar="MOUNT/POINT", help="Watch the log of one run until it has settled.")
@click.option(
    "--patience",
    type=click.FloatRange(min=1),
    default=30,
    show_default=True,
    help="With --follow: how many seconds a log may stand still, or ten of its own steps.",
)
@click.option("--budget", is_flag=True, help="Show where each figure's uncertainty comes from.")
@_json
def reduce(folder: Path, bundle: str, only: str | None, followed: str | None, **options: Any) -> int:  # noqa: ANN401
    """Print the runs of BUNDLE with verdicts and figures: the answer at the bench."""
    from builder.commands.reduce import reduce_one

    if followed and only:
        raise click.UsageError("--run shows a run that is made, --follow one that is being made: name one of them")
    if followed:
        return _follow(folder, bundle, followed, **options)
    answer = reduce_one(folder, bundle, only=only)
    if options["as_json"]:
        _print_json(answer.record(budget=options["budget"]))
    else:
        _console().print(answer.view(budget=options["budget"]))
        say_problems(answer.problems)
    return FINE


def _follow(folder: Path, bundle: str, run: str, *, patience: float, **output: bool) -> int:
    from builder.commands.follow import State, find_target, follow

    target = find_target(folder, bundle, run)
    click.echo(f"Watching {listed(target.files)}. Ctrl-C ends it and shows the last verdict.", err=True)
    last: Report | None = None
    stopped = False
    try:
        with _follow_display(run) as display:
            for report in follow(target, clock=time.monotonic, pause=time.sleep, patience_s=patience):
                last = report
                display(report)
    except KeyboardInterrupt:
        stopped = True
    judged = last if last and last.run else None
    if judged and output["as_json"]:
        _print_json(judged.record(budget=output["budget"]))
    elif judged:
        _console().print(judged.view(f"{bundle}, {run}", budget=output["budget"]))
    if stopped:
        click.echo("stopped" if judged else "stopped before there was a verdict", err=True)
        return STOPPED
    if last is None or last.state is State.SETTLED:
        return FINE
    say_problems(last.problems or [last.problem(target.files[0])])
    return BAD_INPUT


@contextmanager
def _follow_display(run: str) -> Iterator[Callable[[Report], None]]:
    """Yield what shows reports: a bar with a sentence on a terminal, a line each elsewhere."""
    from rich.progress import BarColumn, TextColumn
    from rich.progress import Progress as Bar

    console = _console(err=True)
    if not console.is_terminal:
        yield lambda report: click.echo(f"{run}: {report.message}", err=True)
        return
    columns = (TextColumn(run), BarColumn(), TextColumn("{task.description}"))
    with Bar(*columns, console=console, transient=True) as bar:
        task = bar.add_task("", total=None)

        def display(report: Report) -> None:
            if report.restarted:
                console.print(report.message)
            total = None if report.left_s is None else report.length_s + report.left_s
            bar.update(task, description=report.message, completed=report.length_s, total=total)

        yield display


@commands.command(short_help="Print how results differ, or why they do not compare.")
@click.argument("folder", metavar="DIR", type=_FOLDER)
@click.argument("bundles", nargs=-1, required=True, metavar="A B ...")
@click.option("--point", default="stock", show_default=True, help="The test point to compare at.")
@_json
def compare(folder: Path, bundles: tuple[str, ...], point: str, as_json: bool) -> None:
    """Print the differences between results, with uncertainty, or why they do not compare."""
    from builder.commands.compare import compare_bundles

    if len(bundles) < _PAIR:
        raise click.UsageError("name at least two bundles")
    with _progress() as progress:
        compared = compare_bundles(folder, bundles, point, progress)
    if as_json:
        _print_json(compared.record)
    else:
        _console().print(compared.view)


@commands.command(short_help="Write an episode kit: stills, cards, spoken lines, texts.")
@click.argument("folder", metavar="DIR", type=_FOLDER)
@click.argument("bundle")
@click.option("--against", default="", metavar="BUNDLE2", help="An earlier result to set side by side on a card.")
@click.option("--out", type=_FOLDER, help="Where the kit goes; DIR/kit/BUNDLE by default.")
@_json
def kit(folder: Path, bundle: str, against: str, out: Path | None, as_json: bool) -> int:
    """Write the episode kit of BUNDLE: stills, cards, spoken lines, description and captions."""
    from builder.commands.kit import make_kit

    with _progress() as progress:
        made = make_kit(folder, bundle, out or folder / "kit" / bundle, against=against, progress=progress)
    say_problems(made.problems)
    if as_json:
        _print_json(made.record)
    else:
        if made.mark:
            click.echo(f"Every still says: {made.mark}.", err=True)
        click.echo(f"{made.files} files, {made.bytes / 1e6:.1f} MB in {made.out}", err=True)
    return FINE if made.sound else BAD_INPUT


@commands.command(short_help="Show the site while you work; it follows every change.")
@_folder
@click.option("--port", type=click.IntRange(1, 65535), default=8000, show_default=True, help="The port on loopback.")
def preview(folder: Path, port: int) -> None:
    """Serve the site of DIR on this machine alone, and reload the page at every change; Ctrl-C ends it."""
    from builder.commands.preview import Message, preview_site

    def say(message: Message) -> None:
        click.echo(message.text, err=True)
        say_problems(message.problems)

    preview_site(folder, port=port, say=say)


@commands.command(short_help="Print or write JSON Schemas, for editors.")
@click.argument("kind", required=False)
@click.option(
    "--write",
    "archive",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="DIR",
    help="Write the schemas of all kinds into DIR/.schemas, where the files made by this program name them.",
)
def schema(kind: str | None, archive: Path | None) -> None:
    """Print the JSON Schema of one KIND of file, or those of all kinds by name."""
    from builder.archive.catalogue import KINDS
    from builder.commands.schema import schemas, write_schemas

    if kind is not None and kind not in KINDS:
        hint = nearest(kind, KINDS) or f"kinds: {listing(KINDS)}"
        raise click.UsageError(f'there is no kind of file "{kind}"; {hint}')
    if archive is not None:
        click.echo(f"{len(write_schemas(archive))} schemas in {archive / '.schemas'}", err=True)
    else:
        _print_json(schemas(kind))


@commands.command()
@_folder
@click.option("--out", type=_FOLDER, help="Where the site goes; DIR/public by default.")
@_json
def publish(folder: Path, out: Path | None, as_json: bool) -> None:
    """Publish the site of the archive in DIR."""
    from builder.commands.publish import publish as publish_site

    with _progress() as progress:
        published = publish_site(folder, out or folder / "public", progress)
    say_problems(published.problems)
    if as_json:
        _print_json(published.record)
        return
    counts = f"{count(published.bundles, 'bundle')}, {count(published.pages, 'page')}"
    click.echo(f"{counts}, {published.bytes / 1e6:.1f} MB in {published.out}", err=True)
    click.echo(f"Open {published.out / 'index.html'} in a browser.", err=True)
