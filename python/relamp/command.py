"""The ``relamp`` command: ``check`` reads the logs of a study, ``run`` answers it and writes report and tables."""

from __future__ import annotations

import argparse
import contextlib
import os
import signal
import sys
import threading
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from relamp._words import SAVING_WORDS, counted, saving_marks

if TYPE_CHECKING:
    from types import FrameType

    from relamp.errors import Problem, RelampError

__all__ = ["main"]

OK, ERROR, USAGE, DUE, LOST = 0, 1, 2, 3, 4

_STATUS_WORDS = f"""\
exit status:
  {OK}  fine
  {ERROR}  error: run wrote nothing, or check could not say all
  {USAGE}  the command line was not understood
  {DUE}  run: the work is done, and lamps stand at or past their limit or have no known age
  {LOST}  more than one row in five was set aside, or a log seems to hold something else than its columns are declared
     to, or a reason that counts as a failure seems to stand for planned changes, so that no figure should be used
     before the findings and the declared columns, conventions and reasons were looked at;
     run: the work is done all the same, and no lamp is due by what was read

Once run has written its folder, the status is that of the study, even where standard output takes no more or an
interrupt comes: standard error then says so and names the folder.
"""
_CAUTION = "Makers' limits, local codes and licensed technicians prevail over every age shown here."
# Lists are printed whole as far as a lamp is due; of those that come due later the first ones, as the file has all.
_SOON_SHOWN = 20
# Mistakes and doubts of one kind that are printed; a slip that stands in a thousand places is understood by then.
_OF_A_KIND = 10
# Signs of a cell that are printed: as many as a line of a terminal, twice.
_LONGEST_CELL = 160


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the command and returns its exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        Arguments after the name of the command; those of the process without it.

    Returns
    -------
    int
        0 fine, 1 error, 2 usage, 3 lamps at or past their limit or of unknown age, 4 more than one row in five set
        aside, or a log that seems to hold something else than declared, and no lamp due. Once ``run`` has written its
        folder the status is 0, 3 or 4, whatever becomes of its words on standard output.

    Raises
    ------
    SystemExit
        Where the arguments are not understood, or ask for help or the version.

    Examples
    --------
    >>> from relamp import command
    >>> command.main(["check", "no such study.toml"])
    1
    """
    try:
        options = _parser().parse_args(arguments)
    except SystemExit as stop:
        return int(stop.code or 0)
    except KeyboardInterrupt:
        return _fail("stopped; nothing was written")
    except BrokenPipeError:
        _discard(sys.stdout)
        return ERROR
    except OSError as error:
        # Help and the version are the whole work: what could not be written was not done.
        _discard(sys.stdout)
        return _fail(f"standard output: {error.strerror or error}")
    if options.threads is not None:
        # Read by the thread pool when it starts, which no import does.
        os.environ["RAYON_NUM_THREADS"] = str(options.threads)
    from relamp.errors import RelampError

    # A terminal of few signs must not end a run whose files are written.
    with contextlib.suppress(AttributeError):
        sys.stdout.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]
    try:
        status: int = options.work(options)
        if sys.stdout is not None:
            sys.stdout.flush()
        return status
    except RelampError as error:
        return _fail(_mistakes(error, options.of_a_kind))
    except KeyboardInterrupt:
        return _untold(options, "stopped", "stopped; nothing was written")
    except BrokenPipeError:
        # The reader of our output went away, which is its own choice.
        _discard(sys.stdout)
        return _untold(options, "standard output was closed before all was said", None)
    except OSError as error:
        why = error.strerror or str(error)
        if error.filename is not None:
            return _untold(options, f"{error.filename}: {why}", f"{error.filename}: {why}")
        _discard(sys.stdout)
        return _untold(options, f"standard output: {why}", f"standard output: {why}")
    except ImportError:
        # An interrupt in the midst of the import of a compiled module comes out as one that failed.
        if not _interrupts:
            raise
        return _untold(options, "stopped", "stopped; nothing was written")


# Interrupts that came to the process, whatever became of them.
_interrupts: list[int] = []


def _interrupt(number: int, frame: FrameType | None) -> None:
    _interrupts.append(number)
    signal.default_int_handler(number, frame)


def _process() -> int:
    """The command as a process of its own: an interrupt while Python ends takes nothing from the status."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _interrupt)
    status = main()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return status


@contextlib.contextmanager
def _interrupts_wait() -> Iterator[None]:
    """An interrupt that comes within comes at the end: a folder that has its name must be known to have it."""
    if threading.current_thread() is not threading.main_thread():
        # No interrupt reaches another thread, and none may set how they are met.
        yield
        return
    came: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: came.append(number))
    try:
        yield
    finally:
        # None where the handler was not set from Python.
        signal.signal(signal.SIGINT, signal.default_int_handler if before is None else before)
    if came:
        raise KeyboardInterrupt


def _mistakes(error: RelampError, shown: int) -> str:
    """The message with the first mistakes of each kind, and on which lines of which files the others stand."""
    kinds: dict[str, list[Problem]] = {}
    for problem in error.problems:
        kinds.setdefault(problem.slug, []).append(problem)
    short = all(len(p.got or "") <= _LONGEST_CELL for p in error.problems)
    if str(error) and short and all(len(of_kind) <= shown for of_kind in kinds.values()):
        return str(error)
    if len(error.problems) == 1:
        return _problem(error.problems[0]) + (f"; {error.hint}" if error.hint else "")
    lines = [f"{counted(len(error.problems), 'problem')}:"]
    for slug, of_kind in kinds.items():
        of_kind.sort(key=lambda p: (p.input, p.line or 0, p.row or 0))
        lines += [f"  {_problem(problem)}" for problem in of_kind[:shown]]
        more = of_kind[shown:]
        if more:
            lines.append(f"  and {len(more):,} more of this kind{_on_lines(more)} [{slug}]")
    return "\n".join(lines) + (f"; {error.hint}" if error.hint else "")


def _problem(p: Problem) -> str:
    """As a message of one mistake puts it."""
    named = (("row", p.row), ("line", p.line), ("column", p.column))
    place = ", ".join([p.input, *(f"{name} {value}" for name, value in named if value is not None)])
    said = f"{place}: {p.what}" if p.input else p.what
    got = f", got {_shown(p.got)}" if p.got else ""
    expected = f", expected {p.expected}" if p.expected else ""
    return f"{said}{got}{expected} [{p.slug}]"


def _on_lines(problems: Sequence[Problem]) -> str:
    lines: dict[str, list[int]] = {}
    for p in problems:
        if p.line is not None:
            lines.setdefault(p.input, []).append(p.line)
    ends = [(name, min(of), max(of)) for name, of in lines.items()]
    parts = [f"{name}, line {a}" if a == b else f"{name}, lines {a} to {b}" for name, a, b in ends[:_OF_A_KIND]]
    return f" in {'; '.join(parts)}" if parts else ""


def _fail(message: str) -> int:
    _warn(message)
    return ERROR


def _untold(options: argparse.Namespace, why: str, nothing_written: str | None) -> int:
    """The status where not all could be said: that of the study as soon as its files are there."""
    if options.status is None:
        return ERROR if nothing_written is None else _fail(nothing_written)
    status: int = options.status
    _warn(f"{why}; every file was written to {options.out}, and the exit status is that of the study, {status}")
    return status


def _warn(message: str) -> None:
    try:
        print(f"relamp: {_printable(message, lines=True)}", file=sys.stderr, flush=True)
    except OSError:
        _discard(sys.stderr)


def _discard(stream: TextIO | None) -> None:
    """Sends what a stream still holds nowhere: Python would fail on it again at its end, with a status of its own."""
    with contextlib.suppress(OSError, ValueError):
        if stream is not None:
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


class _Parser(argparse.ArgumentParser):
    """Tells of help or a version that cannot be written, which the parser of the standard library passes over."""

    def _print_message(self, message: str, file: Any = None) -> None:
        if file is None or file is not sys.stdout:
            super()._print_message(message, file)
        else:
            file.write(message)
            file.flush()


def _parser() -> argparse.ArgumentParser:
    from relamp import __version__

    parser = _Parser(
        prog="relamp",
        description="From lamp logs to replacement ages and spares. " + _CAUTION,
        epilog=_STATUS_WORDS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"relamp {__version__}")
    tasks = parser.add_subparsers(title="tasks", required=True, metavar="TASK")

    def task(name: str, help: str, work: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        sub = tasks.add_parser(
            name,
            help=help,
            description=help,
            epilog=_STATUS_WORDS,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        sub.add_argument("study", type=Path, metavar="STUDY.toml", help="study file")
        sub.add_argument("--threads", type=_threads, metavar="N", help="threads to use; results do not depend on it")
        # None until the files of a run are written.
        sub.set_defaults(work=work, status=None, of_a_kind=_OF_A_KIND)
        return sub

    check = task("check", "read the logs of a study: counts that add up, and what is doubtful", _check)
    check.add_argument(
        "--first", type=_whole, default=3, metavar="N", help="findings shown of each rule (default %(default)s)"
    )
    check.add_argument(
        "--mistakes",
        type=_whole,
        default=_OF_A_KIND,
        dest="of_a_kind",
        metavar="N",
        help="mistakes of the study file shown of each kind (default %(default)s)",
    )
    run = task("run", "answer a study and write report, results, tables and manifest to a folder", _run)
    made = "folder to write; made if missing, with the folders above it"
    run.add_argument("--out", type=Path, required=True, metavar="DIR", help=made)
    run.add_argument("--replace", action="store_true", help="replace a folder that an earlier run wrote")
    return parser


def _whole(text: str) -> int:
    number = int(text)
    if number < 0:
        raise ValueError
    return number


def _threads(text: str) -> int:
    number = int(text)
    if not 1 <= number <= 1024:
        raise ValueError
    return number


# The names of these functions stand in argparse's message: "invalid whole number value: 'x'".
_whole.__name__ = "whole number"
_threads.__name__ = "number of threads"


def _check(options: argparse.Namespace) -> int:
    import relamp
    from relamp import report

    study = relamp.Study.open(options.study)
    with _progress("reading") as told:
        reading = study.read(progress=told)
    print(_printable(study.name))
    if reading.warning:
        print(_printable(f"WARNING: {report.sentence(reading.warning)}"))
    doubts = study.doubts(reading).frame().to_dicts()
    _warn_of_reasons(doubts)
    counts = reading.counts
    agree = reading.reconciles
    print(
        f"{counted(counts['rows'], 'row')} = {counts['used']:,} used + {counts['merged']:,} merged + "
        f"{counts['set_aside']:,} set aside: {'the counts agree' if agree else 'THE COUNTS DO NOT AGREE'}"
    )
    print(f"{counted(len(reading.lives()), 'lamp')}\n")
    rows = [["file", "rows", "used", "merged", "set aside"]]
    for file, n in reading.counts_by_file:
        rows.append([file, *(f"{n[key]:,}" for key in ("rows", "used", "merged", "set_aside"))])
    _table(rows, right={1, 2, 3, 4})
    # What the study file declares in vain has a list of its own below.
    told_below = {d["rule"] for d in doubts}
    findings = [f for f in study.ledger(reading).frame().to_dicts() if f["rule"] not in told_below]
    print()
    if not findings:
        print("no findings in the logs")
    by_rule = Counter((f["rule"], f["outcome"]) for f in findings)
    for (rule, outcome), number in sorted(by_rule.items(), key=lambda item: (-item[1], item[0])):
        print(f"{number:,} x {rule}, {outcome.replace('_', ' ')}")
        shown = [f for f in findings if (f["rule"], f["outcome"]) == (rule, outcome)][: options.first]
        for f in shown:
            # A finding about a whole log has no line.
            line = f", line {f['line']}" if f["line"] else ""
            print(_printable(f"    {f['file']}{line}{_cell(f)}: {f['sentence']}"))
        if number > len(shown) > 0:
            print(f"    and {number - len(shown):,} more; a run writes all to ledger.csv")
    wrong = _print_beside(study, reading)
    _print_doubts(doubts)
    if wrong:
        return _fail(_mistakes(wrong, options.of_a_kind))
    if not agree:
        return ERROR
    return LOST if reading.warning or _heaped(doubts) else OK


def _print_beside(study: Any, reading: Any) -> RelampError | None:
    """What is doubtful in the stock count and in the file of claims, read with the sites and the lamps of the logs.

    Returns
    -------
    RelampError or None
        What keeps them from being read, in one error.
    """
    from relamp.errors import RelampError

    wrong: list[Problem] = []
    for what, read in (("stock count", study.stock_findings), ("file of claims", study.claims_set_aside)):
        try:
            rows = read(reading).frame().to_dicts()
        except RelampError as error:
            wrong += error.problems
            continue
        if rows:
            print(f"\nDoubtful or wrong in the {what}: {len(rows):,}")
        for row in rows[:_SOON_SHOWN]:
            said = row.get("sentence") or f"{row['serial']}: {row['why']}"
            print(_printable(f"    {row['file']}, line {row['line']}{_cell(row)}: {said}"))
        if len(rows) > _SOON_SHOWN:
            print(f"    and {len(rows) - _SOON_SHOWN:,} more")
    return RelampError(problems=wrong) if wrong else None


def _run(options: argparse.Namespace) -> int:
    import relamp
    from relamp import _ends, report

    study = relamp.Study.open(options.study)
    # A long run must not end at a folder that was full before it began.
    study.check_target(options.out, replace=options.replace)
    with _progress("running") as told:
        output = study.run(progress=told)
    results = output.results
    names = ("file", "size_bytes", "sha256")
    page = report.html(results, inputs=[dict(zip(names, i, strict=True)) for i in output.inputs])
    body = results.to_dict()
    status = _status(body)
    with _interrupts_wait():
        output.write(options.out, extra={"report.html": page.encode()}, replace=options.replace)
        options.status = status
    ledger = body["ledger"]
    _print_overdue(body)
    if ledger["warning"]:
        print("\n" + _printable(f"WARNING: {report.sentence(ledger['warning'])}"))
    if _heaped(body["doubts"]):
        print()
    _warn_of_reasons(body["doubts"])
    _print_classes(body)
    _print_buying(body)
    for line in _ends.lines(body, options.out):
        print(_printable(report.sentence(line)))
    print(
        f"\n{counted(ledger['rows_count'], 'row')} = {ledger['used_count']:,} used + "
        f"{ledger['merged_count']:,} merged + {ledger['set_aside_count']:,} set aside; "
        f"{counted(ledger['lives_count'], 'lamp')}"
    )
    _print_doubts(body["doubts"])
    print(f"Report: {_printable(str(options.out / 'report.html'))}")
    print(_CAUTION)
    return _status(body)


def _status(body: Mapping[str, Any]) -> int:
    """Lamps that are due come before everything else."""
    lists = body["overdue"]
    if lists["at_limit"] or lists["age_unknown"]:
        return DUE
    return LOST if body["ledger"]["warning"] or _heaped(body["doubts"]) else OK


def _heaped(doubts: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Doubts of what counts as a failure, on which every figure hangs, that the study file does not answer."""
    grave = ("study.reason_heaped", "study.no_planned_reason", "study.no_burning_lamp")
    return [d for d in doubts if d["rule"] in grave and d["outcome"] != "answered"]


def _warn_of_reasons(doubts: Sequence[Mapping[str, Any]]) -> None:
    """What may count as a failure though it is none, before any figure."""
    for d in _heaped(doubts):
        print(_printable(f"WARNING: {_place(d)}: {d['sentence']}") + "\n")


def _place(d: Mapping[str, Any]) -> str:
    return f"{d['file']}, line {d['line']}, {d['column']} {_cut(d['value'])}"


def _print_doubts(doubts: Sequence[Mapping[str, Any]]) -> None:
    """What the study file declares and is doubtful, and what it answers."""
    headings = {False: "Doubtful in what the study file declares:", True: "Answered in the study file:"}
    for answered, heading in headings.items():
        told = [d for d in doubts if (d["outcome"] == "answered") == answered]
        if told:
            print(f"\n{heading}")
        for d in told[:_OF_A_KIND]:
            print(_printable(f"    {_place(d)}: {d['sentence']}"))
        if len(told) > _OF_A_KIND:
            print(f"    and {len(told) - _OF_A_KIND:,} more; a run writes all to ledger.csv")


def _print_overdue(body: Mapping[str, Any]) -> None:
    """The lamps to change first."""
    from relamp.report import FORMATS

    lists = body["overdue"]
    at_limit, unknown, soon = lists["at_limit"], lists["age_unknown"], lists["soon"]
    if lists.get("not_known"):
        print(
            f"Lamps at or past their limit, of unknown age or soon at their limit: not known, as {lists['not_known']}"
        )
        return
    # The list comes first, so its first line says where to read what it may lack.
    warned = body["ledger"]["warning"] or _heaped(body["doubts"])
    below = " (read the WARNING below this list: rows or reasons are in doubt)" if warned else ""
    print(f"Lamps at or past their limit at their last reading: {len(at_limit)}{below}")
    if at_limit:
        rows = [["", "class", "site", "screen", "serial", "hours", "judged at", "over", "read on"]]
        for lamp in at_limit:
            hours = [FORMATS["hours"](lamp[key]) for key in ("reading_hours", "limit_hours", "over_hours")]
            read_on = lamp["read_on"] or "not known"
            rows.append(["", lamp["lamp_class"], lamp["site"], lamp["screen"], lamp["serial"], *hours, read_on])
        _table(rows, right={5, 6, 7})
    print(f"\nLamps whose age today is not known, to be treated as due: {len(unknown)}")
    if unknown:
        rows = [["", "class", "site", "screen", "serial", "hours", "read on", "why"]]
        for lamp in unknown:
            known = "" if lamp["reading_hours"] is None else FORMATS["hours"](lamp["reading_hours"])
            read = [known, lamp["read_on"] or "", lamp["why"]]
            rows.append(["", lamp["lamp_class"], lamp["site"], lamp["screen"], lamp["serial"], *read])
        _table(rows, right={5})
    print(f"\nLamps expected to reach their limit before the next visit or within the lead time: {len(soon)}")
    if soon:
        rows = [["", "class", "site", "screen", "serial", "hours", "at visit", "judged at", "days left", ""]]
        for lamp in soon[:_SOON_SHOWN]:
            hours = [FORMATS["hours"](lamp[key]) for key in ("reading_hours", "expected_hours_at_visit", "limit_hours")]
            days = str(lamp["days_left"])
            stop = f"its screen stops by {lamp['stops_by']}" if lamp.get("stops_by") else ""
            rows.append(["", lamp["lamp_class"], lamp["site"], lamp["screen"], lamp["serial"], *hours, days, stop])
        _table(rows, right={5, 6, 7, 8})
        if len(soon) > _SOON_SHOWN:
            print(f"  and {len(soon) - _SOON_SHOWN:,} more in overdue.csv")


def _print_classes(body: Mapping[str, Any]) -> None:
    from relamp.report import FORMATS

    currency = body["study"]["currency"]
    saving = f"saving a year, {currency}"
    head = ["class", "change at", "limit", "rests on", "fails before", saving, "next month", "hold", "order"]
    rows = [head]
    for c in body["classes"]:
        policy, demand, stock, bounds = c["policy"], c["demand"], c["stock"], c["bounds"]
        months = demand["months"] if demand else []
        least = bounds["months"] if bounds else []
        rows.append(
            [
                c["name"],
                FORMATS["hours"](c["advised_age_hours"]) + " h",
                FORMATS["hours"](c["limit"]["limit_hours"]) + " h",
                _rests_on(c),
                FORMATS["share"](policy["planned"]["failure_probability"]) if policy else "not known",
                _saving(policy) if policy else "not known",
                f"{months[0]['mean_lamps']:.1f} (95 %: {months[0]['p95_lamps']} or fewer)"
                if months
                else _least(least[0]["least_by_end_lamps"])
                if least
                else "not known",
                f"{stock['level_lamps']:,}" if stock else _at_least(bounds, "least_lamps"),
                f"{stock['order_lamps']:,}" if stock else _at_least(bounds, "order_least_lamps"),
            ]
        )
    print()
    _table(rows, right=set(range(1, len(head))) - {3})
    marks = {mark for c in body["classes"] if c["policy"] for mark in saving_marks(c["policy"])}
    for mark, meaning in SAVING_WORDS.items():
        if mark in marks:
            print(f"{mark}: {meaning}")
    print()
    for c in body["classes"]:
        print(_printable(f"{c['name']}: {c['headline']}"))
        if c["policy"]:
            print(_printable(f"{c['name']}: {c['policy']['run_to_failure_sentence']}"))
            # Results of before count no money back and hold no age of the curve.
            for key in ("curve_age", "money_back"):
                if told := c["policy"].get(key):
                    print(_printable(f"{c['name']}: {told['sentence']}"))
        if c["bounds"]:
            print(_printable(f"{c['name']}: {c['bounds']['label']}: {c['bounds']['sentence']}"))
        for warning in c["warnings"]:
            print(_printable(f"{c['name']}: {warning}"))


def _print_buying(body: Mapping[str, Any]) -> None:
    """What to buy and by when, and what to hold where, in short."""
    from relamp import _ends, report

    currency = body["study"]["currency"]
    if plan := body.get("purchase_plan"):
        least = ", at the least" if plan["least_only_classes_count"] else ""
        total = "not known"
        if plan["order_lamps"] is not None:
            lamps, price = counted(plan["order_lamps"], "lamp"), report.FORMATS["money"](plan["order_price"])
            total = f"{lamps} for {price} {currency} in all{least}; by month in purchase_plan.csv"
        print(f"\nTo buy: {total}")
        for c in plan["classes"]:
            print(_printable(f"    {c['lamp_class']}: {c['sentence']}"))
        for told in _ends.plan_ends(body):
            print(_printable(f"    {told}"))
    if stores := body.get("stock_list"):
        print()
        if stores["count"] and stores["count"]["warning"]:
            print(_printable(f"WARNING: stock count: {stores['count']['warning']}"))
        print(_printable(f"To hold: {stores['sentence']}; by place in stock_list.csv"))
        for c in stores["classes"]:
            print(_printable(f"    {c['lamp_class']}: {c['sentence']}"))
        if (count := stores["count"]) and count["findings"]:
            first = count["findings"][0]
            told = counted(len(count["findings"]), "finding")
            apart = f" ({counted(count['set_aside_count'], 'row')} set aside)" if count["set_aside_count"] else ""
            line = f"{first['file']}, line {first['line']}{_cell(first)}: {first['sentence']}"
            print(_printable(f"    {told} in the stock count{apart}, the first in {line}"))


def _rests_on(c: Mapping[str, Any]) -> str:
    """The models behind age, costs, lamps needed and spares, shortly; results.json has more in `rests_on`."""
    from relamp import family_in_words

    if not c["policy"]:
        return "no model"
    codes = dict.fromkeys(cause["family"] for cause in c["model"]["by_cause"])
    return ", ".join("even rate" if code == "exponential" else family_in_words(code) for code in codes)


def _saving(policy: Mapping[str, Any]) -> str:
    from relamp.report import FORMATS

    if policy["saving_against_today_per_year"] is None:
        return "not known"
    marks = saving_marks(policy)
    return FORMATS["about"](policy["saving_against_today_per_year"]) + (f" ({', '.join(marks)})" if marks else "")


def _at_least(bounds: Mapping[str, Any] | None, figure: str) -> str:
    return _least(bounds["spares"][figure]) if bounds else "not known"


def _least(lamps: int) -> str:
    """A lower bound; that of no lamp bounds nothing."""
    return f"at least {lamps:,}" if lamps else "not known"


def _table(rows: Sequence[Sequence[str]], right: Collection[int] = frozenset()) -> None:  # type: ignore[assignment]
    cells = [[_printable(_shown(str(cell))) for cell in row] for row in rows]
    widths = [max(len(row[i]) for row in cells) for i in range(len(cells[0]))]
    for row in cells:
        padded = (c.rjust(w) if i in right else c.ljust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True)))
        print("  ".join(padded).rstrip())


def _cell(finding: Mapping[str, Any]) -> str:
    """The cell of a finding, for the end of its place; nothing where it speaks of a whole row."""
    return f", {finding['column']} {_cut(finding['value'])}" if finding.get("column") else ""


def _cut(cell: str) -> str:
    """A cell in quotes; of one that would fill the terminal the beginning, and how long it is."""
    return _shown(cell, lambda text: f'"{text}"')


def _shown(cell: str, quoted: Callable[[str], str] = str) -> str:
    if len(cell) <= _LONGEST_CELL:
        return quoted(cell)
    return f"{quoted(cell[:_LONGEST_CELL])}... ({len(cell):,} characters)"


def _printable(text: str, *, lines: bool = False) -> str:
    """Text from a log may hold control characters, which a terminal would obey."""
    return "".join(c if c.isprintable() or (lines and c == "\n") else "\N{REPLACEMENT CHARACTER}" for c in text)


@contextlib.contextmanager
def _progress(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """Tells a terminal that work goes on. Its steps become known on the way, so that a share of them would mislead."""
    if not sys.stderr.isatty():
        yield None
        return

    def tell(done: int, _total: int) -> None:
        print(f"\r{what}: {done:,} steps done", end="", file=sys.stderr, flush=True)

    print(f"{what} ...", end="", file=sys.stderr, flush=True)
    ended = "stopped"
    try:
        yield tell
        ended = "finished"
    finally:
        print(f"\n{what} {ended}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(_process())
