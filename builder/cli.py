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
from builder.core.errors import Problem, Severity, SoakbookError, listing, nearest, problem_rows

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from builder.archive.bundle import Pad
    from builder.commands.figures import Progress
    from builder.commands.follow import Report

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
        click.echo(_count(found), err=True)


def _count(problems: list[Problem]) -> str:
    counts = ((s, sum(p.severity is s for p in problems)) for s in Severity)
    return ", ".join(_many(n, s) for s, n in counts if n)


def _many(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _print_json(record: Any) -> None:  # noqa: ANN401 - whatever JSON holds
    click.echo(json.dumps(record, ensure_ascii=False, allow_nan=False, indent=2))


def _console(*, err: bool = False) -> Console:
    from rich.console import Console

    console = Console(stderr=err, highlight=False)
    return console if console.is_terminal else Console(stderr=err, highlight=False, width=80, no_color=True)


def _show(view: RenderableType) -> None:
    _console().print(view)


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

    return tuple(_pad(Pad, text) for text in texts)


def _pad(model: type[Pad], text: str) -> Pad:
    try:
        where, thickness, *gap = (part.strip() for part in text.split(":"))
        gaps = {"gap_mm": float(gap[0])} if gap else {}
        return model(where=where, thickness_mm=float(thickness), **gaps)
    except ValueError:
        raise click.BadParameter(f'expected a pad as memory:1.5:1.3 in mm, found "{text}"') from None


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
    from builder.commands.terminal import inspection_view
    from builder.logs import inspect_log
    from builder.site.records import inspection_record

    inspection = inspect_log(log.read_bytes(), log.name)
    if as_json:
        _print_json(inspection_record(inspection))
        return
    _show(inspection_view(inspection))
    click.echo(inspection.reader_block(), nl=False)


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
def sheet(folder: Path, tested: dt.datetime | None, **asked: Any) -> None:  # noqa: ANN401 - options as click gives them
    """Write a new bundle with a line for each run, and a run sheet to print."""
    from builder.commands.sheet import Wanted, prepare_session

    day = tested.date() if tested else dt.date.today()  # noqa: DTZ011 - the day on the tester's wall
    done = prepare_session(folder, Wanted(tested=day, **asked))
    for remark in done.remarks:
        click.echo(remark, err=True)
    click.echo(f"Bundle {done.bundle}: edit {done.bundle_file}, print {done.sheet}", err=True)


@commands.command()
@_folder
@_json
def check(folder: Path, as_json: bool) -> int:
    """Read everything in DIR and report every problem at once."""
    from builder.commands.check import check_archive

    with _progress() as progress:
        checked = check_archive(folder, progress)
    if as_json:
        unlinked = [{"file": n.where.file, "line": n.where.line, "text": n.text} for n in checked.narration.unlinked]
        _print_json({"ok": checked.sound, "problems": problem_rows(checked.problems), "unchecked_numbers": unlinked})
    else:
        say_problems(checked.problems)
        if checked.sound:
            click.echo(f"{_many(len(checked.reduced.results), 'bundle')} read, no errors.", err=True)
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
def reduce(folder: Path, bundle: str, only: str | None, followed: str | None, **shown: Any) -> int:  # noqa: ANN401
    """Print the runs of BUNDLE with verdicts and figures: the answer at the bench."""
    if followed and only:
        raise click.UsageError("--run shows a run that is made, --follow one that is being made: name one of them")
    if followed:
        return _follow(folder, bundle, followed, **shown)
    return _reduced(folder, bundle, only, **shown)


def _reduced(folder: Path, bundle: str, only: str | None, *, budget: bool, as_json: bool, **_: float) -> int:
    from builder.commands.figures import reduce_one
    from builder.commands.terminal import bundle_title, bundle_view, run_view
    from builder.site.records import bundle_record

    loaded, result, problems = reduce_one(folder, bundle, only=only)
    if as_json:
        _print_json(bundle_record(result, budget=budget))
        return FINE
    title = bundle_title(loaded.catalogue, bundle)
    runs = [run for point in result.points for run in point.runs]
    if only or budget:
        for one in runs:
            _show(run_view(one, f"{title}, {one.id}", budget=budget))
    else:
        _show(bundle_view(result, title))
    say_problems(problems)
    return FINE


def _follow(folder: Path, bundle: str, name: str, *, patience: float, **shown: bool) -> int:
    from builder.commands.follow import State, find_target, follow

    last: Report | None = None
    target = find_target(folder, bundle, name)
    click.echo(f"Watching {target.file}. Ctrl-C ends it and shows the last verdict.", err=True)
    stopped = False
    try:
        with _watched(name) as show:
            for report in follow(target, clock=time.monotonic, pause=time.sleep, patience_s=patience):
                last = report
                show(report)
    except KeyboardInterrupt:
        stopped = True
    _show_last(last, f"{bundle}, {name}", **shown)
    if stopped:
        click.echo("stopped" if last and last.run else "stopped before there was a verdict", err=True)
        return STOPPED
    if last is None or last.state is State.SETTLED:
        return FINE
    say_problems(last.problems or [last.problem(target.file)])
    return BAD_INPUT


def _show_last(last: Report | None, title: str, *, budget: bool, as_json: bool) -> None:
    from builder.commands.terminal import run_view
    from builder.site.records import run_record

    if last and last.run and as_json:
        _print_json(run_record(last.run, budget=budget))
    elif last and last.run:
        _show(run_view(last.run, title, budget=budget))


@contextmanager
def _watched(name: str) -> Iterator[Callable[[Report], None]]:
    """Yield what shows reports: a bar with a sentence on a terminal, a line each elsewhere."""
    from rich.progress import BarColumn, TextColumn
    from rich.progress import Progress as Bar

    console = _console(err=True)
    if not console.is_terminal:
        yield lambda report: click.echo(f"{name}: {report.message}", err=True)
        return
    columns = (TextColumn(name), BarColumn(), TextColumn("{task.description}"))
    with Bar(*columns, console=console, transient=True) as bar:
        task = bar.add_task("", total=None)

        def show(report: Report) -> None:
            if report.restarted:
                console.print(report.message)
            total = None if report.left_s is None else report.length_s + report.left_s
            bar.update(task, description=report.message, completed=report.length_s, total=total)

        yield show


@commands.command(short_help="Print how results differ, or why they do not compare.")
@click.argument("folder", metavar="DIR", type=_FOLDER)
@click.argument("bundles", nargs=-1, required=True, metavar="A B ...")
@click.option("--point", default="stock", show_default=True, help="The test point to compare at.")
@_json
def compare(folder: Path, bundles: tuple[str, ...], point: str, as_json: bool) -> None:
    """Print the differences between results, with uncertainty, or why they do not compare."""
    from builder.commands.compare import compare_bundles
    from builder.commands.terminal import compare_view
    from builder.site.records import pair_record

    if len(bundles) < _PAIR:
        raise click.UsageError("name at least two bundles")
    with _progress() as progress:
        tested, pairs = compare_bundles(folder, bundles, point, progress)
    if as_json:
        _print_json([pair_record(found) for found in pairs])
        return
    for found in pairs:
        _show(compare_view(tested, found))


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
        done = make_kit(folder, bundle, out or folder / "kit" / bundle, against=against, progress=progress)
    say_problems(done.problems)
    if as_json:
        _print_json(
            {
                "out": done.out.as_posix(),
                "bundle": done.bundle,
                "mark": done.mark,
                "files": done.files,
                "bytes": done.bytes,
                "problems": problem_rows(done.problems),
            }
        )
    else:
        if done.mark:
            click.echo(f"Every still says: {done.mark}.", err=True)
        click.echo(f"{done.files} files, {done.bytes / 1e6:.1f} MB in {done.out}", err=True)
    return FINE if done.sound else BAD_INPUT


@commands.command(short_help="Show the site while you work; it follows every change.")
@_folder
@click.option("--port", type=click.IntRange(1, 65535), default=8000, show_default=True, help="The port on loopback.")
def preview(folder: Path, port: int) -> None:
    """Serve the site of DIR on this machine alone, and reload the page at every change; Ctrl-C ends it."""
    from builder.commands.preview import Said, preview_site

    def say(said: Said) -> None:
        click.echo(said.text, err=True)
        say_problems(said.problems)

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
    from builder.archive import json_schema
    from builder.archive.catalogue import KINDS

    if kind is not None and kind not in KINDS:
        hint = nearest(kind, KINDS) or f"kinds: {listing(KINDS)}"
        raise click.UsageError(f'there is no kind of file "{kind}"; {hint}')
    if archive is not None:
        from builder.commands.schema import write_schemas

        click.echo(f"{len(write_schemas(archive))} schemas in {archive / '.schemas'}", err=True)
        return
    _print_json(json_schema(kind) if kind else {name: json_schema(name) for name in KINDS})


@commands.command()
@_folder
@click.option("--out", type=_FOLDER, help="Where the site goes; DIR/public by default.")
@_json
def publish(folder: Path, out: Path | None, as_json: bool) -> None:
    """Publish the site of the archive in DIR."""
    from builder.commands.publish import publish as publish_site

    with _progress() as progress:
        done = publish_site(folder, out or folder / "public", progress)
    say_problems(done.problems)
    if as_json:
        _print_json(
            {
                "out": done.out.as_posix(),
                "bundles": done.bundles,
                "pages": done.pages,
                "files": done.files,
                "bytes": done.bytes,
                "problems": problem_rows(done.problems),
            }
        )
        return
    size = f"{done.bytes / 1e6:.1f} MB"
    click.echo(f"{_many(done.bundles, 'bundle')}, {_many(done.pages, 'page')}, {size} in {done.out}", err=True)
    click.echo(f"Open {done.out / 'index.html'} in a browser.", err=True)
