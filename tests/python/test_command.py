"""The command: what it prints first, what it writes, its exit statuses, and errors in plain words."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import demo
import pytest
import relamp
from conftest import STUDY
from relamp import command
from relamp.command import main

FILES = {"report.html", "results.json", "ledger.csv", "overdue.csv", "lives.csv", "purchase_plan.csv"} | {
    "stock_list.csv",
    "claims.csv",
    "last_buys.csv",
    "manifest.json",
}


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo.copy(tmp_path_factory.mktemp("chain") / "demo")


@pytest.fixture(scope="module")
def ran(study: Path) -> tuple[subprocess.CompletedProcess[str], Path]:
    out = study.parent.parent / "out"
    call = [sys.executable, "-m", "relamp.command", "run", str(study), "--out", str(out)]
    return subprocess.run(call, capture_output=True, text=True, check=False), out


def test_the_first_lines_are_the_lamps_at_their_limit(ran: Any) -> None:
    done, out = ran
    assert done.stderr == ""
    lists = json.loads((out / "results.json").read_text())["body"]["overdue"]
    lines = done.stdout.splitlines()
    assert lines[0] == f"Lamps at or past their limit at their last reading: {len(lists['at_limit'])}"
    assert len(lists["at_limit"]) > 0
    for line, lamp in zip(lines[2:], lists["at_limit"], strict=False):
        assert lamp["serial"] in line
        assert f" {int(lamp['over_hours']):,} " in line
    assert "Makers' limits, local codes and licensed technicians prevail" in done.stdout


def test_exit_status_3_says_that_lamps_are_due(ran: Any) -> None:
    assert ran[0].returncode == 3


def test_a_full_disk_behind_standard_output_keeps_the_status_and_names_what_was_written(
    study: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    call = [sys.executable, "-m", "relamp.command"]
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [*call, "run", str(study), "--out", str(out)], stdout=full, stderr=-1, text=True, check=False
        )
        said = subprocess.run([*call, "check", str(study)], stdout=full, stderr=-1, text=True, check=False)
        mute = subprocess.run(
            [*call, "run", str(study), "--out", str(out), "--replace"], stdout=full, stderr=full, check=False
        )
    assert {f.name for f in out.iterdir()} == FILES
    assert done.returncode == mute.returncode == 3
    assert done.stderr == (
        f"relamp: standard output: No space left on device; every file was written to {out}, "
        "and the exit status is that of the study, 3\n"
    )
    # `check` writes nothing but its words.
    assert (said.returncode, said.stderr) == (1, "relamp: standard output: No space left on device\n")


@pytest.mark.parametrize("asked", [["--help"], ["--version"], ["run", "--help"]])
def test_help_that_a_full_disk_does_not_take_is_no_success(asked: list[str]) -> None:
    with open("/dev/full", "w") as full:
        call = [sys.executable, "-m", "relamp.command", *asked]
        said = subprocess.run(call, stdout=full, stderr=-1, text=True, check=False)
    assert (said.returncode, said.stderr) == (1, "relamp: standard output: No space left on device\n")


def test_a_reader_that_goes_away_does_not_hide_that_lamps_are_due(study: Path, tmp_path: Path) -> None:
    call = [sys.executable, "-m", "relamp.command", "run", str(study), "--out", str(tmp_path / "out")]
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdout.close()
        said = run.stderr.read()
    assert run.returncode == 3
    assert said.startswith("relamp: standard output was closed before all was said; every file was written to ")


def test_an_interrupt_after_the_files_are_written_says_so(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt(_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "_print_classes", interrupt)
    assert main(["run", str(study), "--out", str(tmp_path / "out")]) == 3
    assert "stopped; every file was written to " in capsys.readouterr().err
    monkeypatch.setattr(relamp.Study, "open", interrupt)
    assert main(["run", str(study), "--out", str(tmp_path / "none")]) == 1
    assert capsys.readouterr().err == "relamp: stopped; nothing was written\n"


def test_an_interrupt_within_an_import_is_one(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def half_way(_: Any) -> None:
        raise ImportError("initialization failed")

    monkeypatch.setattr(relamp.Study, "open", half_way)
    with pytest.raises(ImportError):
        main(["run", str(study), "--out", str(tmp_path / "none")])
    monkeypatch.setattr(command, "_interrupts", [2])
    assert main(["run", str(study), "--out", str(tmp_path / "none")]) == 1
    assert capsys.readouterr().err == "relamp: stopped; nothing was written\n"


def test_an_interrupt_while_the_folder_takes_its_name_waits_until_it_has(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    write = relamp.StudyOutput.write

    class Interrupted:
        """An output whose writing is interrupted when all is there, as from the keyboard."""

        def __init__(self, output: Any) -> None:
            self.results, self.inputs, self.output = output.results, output.inputs, output

        def write(self, *args: Any, **more: Any) -> None:
            write(self.output, *args, **more)
            signal.raise_signal(signal.SIGINT)
            # Where the interrupt comes at once, what follows the writing is never reached.
            time.sleep(0)

    run = relamp.Study.run

    class Study:
        open = staticmethod(lambda path: Opened(study_open(path)))

    class Opened:
        def __init__(self, opened: Any) -> None:
            self.opened = opened

        def check_target(self, *args: Any, **more: Any) -> None:
            self.opened.check_target(*args, **more)

        def run(self, **more: Any) -> Interrupted:
            return Interrupted(run(self.opened, **more))

    study_open = relamp.Study.open
    monkeypatch.setattr(relamp, "Study", Study)
    before = signal.getsignal(signal.SIGINT)
    assert main(["run", str(study), "--out", str(tmp_path / "out")]) == 3
    said = capsys.readouterr().err
    assert "stopped; every file was written to " in said
    assert "nothing was written" not in said
    assert (tmp_path / "out" / "manifest.json").exists()
    assert signal.getsignal(signal.SIGINT) is before


@pytest.mark.skipif(os.name != "posix", reason="signals are those of a POSIX system")
def test_an_interrupt_while_python_ends_keeps_the_status() -> None:
    # The interrupt comes from what runs last of all.
    late = "import atexit, os, signal, sys; from relamp import command; command.main = lambda: 3\n"
    late += "atexit.register(lambda: os.kill(os.getpid(), signal.SIGINT)); sys.exit(command._process())"
    done = subprocess.run([sys.executable, "-c", late], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (3, "")


def test_a_terminal_of_few_signs_does_not_end_a_run(study: Path, tmp_path: Path) -> None:
    call = [sys.executable, "-m", "relamp.command", "run", str(study), "--out", str(tmp_path / "\u00fcber")]
    few = {**os.environ, "PYTHONIOENCODING": "ascii"}
    done = subprocess.run(call, capture_output=True, text=True, check=False, env=few)
    assert (done.returncode, done.stderr) == (3, "")
    assert "\\xfcber" in done.stdout


def test_every_file_is_there_and_the_manifest_knows_it(ran: Any) -> None:
    _, out = ran
    assert {f.name for f in out.iterdir()} == FILES
    manifest = json.loads((out / "manifest.json").read_text())
    hashes = {f["file"]: f["sha256"] for f in manifest["outputs"]}
    assert set(hashes) == FILES - {"manifest.json"}
    for name, sha256 in hashes.items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == sha256
    assert manifest["inputs"][0]["file"] == "study.toml"
    with open(out / "overdue.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    lists = json.loads((out / "results.json").read_text())["body"]["overdue"]
    assert len(rows) == sum(len(part) for part in lists.values())
    # The frame has the same rows, columns and words.
    frame = relamp.StudyResults.load(out / "results.json").overdue().frame()
    assert list(rows[0]) == frame.columns
    for name in ("list", "serial", "why", "file"):
        assert [row[name] for row in rows] == frame[name].to_list()
    for name in ("reading_hours", "limit_hours", "days_left"):
        assert [float(row[name]) if row[name] else None for row in rows] == frame[name].cast(float).to_list()
    assert all(lamp["days_left"] >= 0 for lamp in lists["soon"])


def test_every_value_of_the_ledger_can_be_searched_in_its_file(ran: Any, study: Path) -> None:
    with open(ran[1] / "ledger.csv", newline="", encoding="utf-8") as file:
        findings = [row for row in csv.DictReader(file) if row["column"] and row["line"] != "0"]
    assert len(findings) > 100
    for row in findings:
        text = (study.parent / row["file"]).read_bytes()
        words = text.decode("cp1252" if b"\xfc" in text and b"\xc3" not in text else "utf-8-sig")
        assert row["value"].removeprefix("'") in words.splitlines()[int(row["line"]) - 1], row


def test_programme_hours_that_no_lamp_has_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    more = '[[programme]]\nsite = "Sit 99 <b>"\nhours_per_week = 60.0\n\n[[log]]'
    file.write_text(text.replace("[[log]]", more, 1), encoding="utf-8")
    said = '"Sit 99 <b>": no row in use names this site'
    assert main(["check", str(file)]) == 0
    assert said in capsys.readouterr().out
    assert main(["run", str(file), "--out", str(tmp_path / "out")]) == 3
    assert said in capsys.readouterr().out
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "Sit 99 &lt;b&gt;" in page
    assert "Doubtful in what the study file declares:" in page
    doubts = relamp.StudyResults.load(tmp_path / "out" / "results.json").doubts().frame()
    assert doubts["rule"].to_list() == ["study.programme_unused"]


def test_another_number_of_threads_gives_the_same_bytes(ran: Any, study: Path) -> None:
    _, out = ran
    again = out.with_name("again")
    call = [sys.executable, "-m", "relamp.command", "run", str(study), "--out", str(again), "--threads", "1"]
    assert subprocess.run(call, capture_output=True, check=False).returncode == 3
    for name in FILES:
        assert (out / name).read_bytes() == (again / name).read_bytes(), name


def test_a_folder_in_use_is_kept_unless_told(study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine")
    assert main(["run", str(study), "--out", str(tmp_path / "out")]) == 1
    assert "not empty" in capsys.readouterr().err
    # It is told before any work: the logs of this study are not even there.
    lone = tmp_path / "lone" / study.name
    lone.parent.mkdir()
    lone.write_bytes(study.read_bytes())
    assert main(["run", str(lone), "--out", str(tmp_path / "out")]) == 1
    assert "not empty" in capsys.readouterr().err
    assert [f.name for f in (tmp_path / "out").iterdir()] == ["mine.txt"]
    assert main(["run", str(study), "--out", str(tmp_path / "out"), "--replace"]) == 1
    assert "mine.txt" in capsys.readouterr().err
    (tmp_path / "out" / "mine.txt").unlink()
    assert main(["run", str(study), "--out", str(tmp_path / "out")]) == 3
    assert main(["run", str(study), "--out", str(tmp_path / "out"), "--replace"]) == 3
    assert {f.name for f in (tmp_path / "out").iterdir()} == FILES


def test_a_study_and_its_logs_are_never_replaced(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for target in (study.parent, study.parent.parent):
        before = sorted(f.name for f in target.iterdir())
        assert main(["run", str(study), "--out", str(target), "--replace"]) == 1
        assert "no run wrote" in capsys.readouterr().err
        assert sorted(f.name for f in target.iterdir()) == before


def test_a_chain_with_nothing_due_gives_exit_status_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = demo.copy(tmp_path / "demo")
    (tmp_path / "demo" / "logs" / "small.csv").write_text(
        "lamp,type,site,screen,in,out,why,hours,read\n"
        + "".join(f"S{i},2.0 kW,Site 1,{i},2025-0{1 + i % 8}-01,2025-11-01,planned,{900 + i},\n" for i in range(9))
        + "R1,2.0 kW,Site 1,20,2025-12-01,,,100,2025-12-20\n"
    )
    text = file.read_text(encoding="utf-8")
    head, classes = text[: text.index("[[log]]")], text[text.index("[[class]]") :]
    log = (
        '[[log]]\nfile = "logs/small.csv"\ndates = "iso"\nblank_hours_at_fitting = "new"\nexported_on = 2025-12-28\n'
        '[log.columns]\nserial = "lamp"\nlamp_class = "type"\nsite = "site"\nscreen = "screen"\nfitted_on = "in"\n'
        'removed_on = "out"\nreason = "why"\nhours = "hours"\nread_on = "read"\n\n[reasons]\n"planned" = "planned"\n\n'
    )
    head = head.split("[reasons]")[0]
    # Depots and stops name sites that this small log does not have.
    classes = re.split(r"^\[\[(?:depot|stop|last_buy)\]\]", classes, maxsplit=1, flags=re.MULTILINE)[0]
    file.write_text(head + log + classes, encoding="utf-8")
    status = main(["run", str(file), "--out", str(tmp_path / "out")])
    shown = capsys.readouterr()
    assert (status, shown.err) == (0, "")
    assert shown.out.startswith("Lamps at or past their limit at their last reading: 0\n")
    assert "not supported" in shown.out.lower()


@pytest.mark.parametrize("failures", [0, 1, 2])
def test_a_class_with_hardly_a_failure_is_answered_and_reported(
    failures: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [f"P{i},2 kW,S,{i},2025-01-01,2025-06-01,on plan,1500," for i in range(20)]
    rows += [f"F{i},2 kW,S,{30 + i},2025-01-01,2025-06-01,popped,{1200 + 130 * i}," for i in range(failures)]
    rows += [f"R{i},2 kW,S,{40 + i},2025-06-01,,,{400 + 600 * i},2025-12-20" for i in range(2)]
    head = "serial,class,site,screen,in,out,why,hours,read\n"
    (tmp_path / "log.csv").write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    study = STUDY.replace('popped = "burst"', 'popped = "burst"\n"on plan" = "planned"')
    (tmp_path / "study.toml").write_text(study, encoding="utf-8")
    assert main(["run", str(tmp_path / "study.toml"), "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    body = relamp.StudyResults.load(tmp_path / "out" / "results.json").to_dict()
    one = body["classes"][0]
    assert (one["seen"]["failures_count"], one["advised_age_hours"]) == (failures, 1800.0)
    assert one["headline"] in said
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "The limit binds" not in page
    assert ("even rate" in said.partition("\n2 kW ")[2].splitlines()[0]) == (failures > 0)
    # The saving is not known, in the terminal and in the summary.
    assert "not known" in said.partition("\n2 kW ")[2].splitlines()[0]
    assert page.count("not known") >= 1
    # So few failures show a rate and no age: nowhere an interval of ages, a curve of cost or a saving.
    assert one["status"] == ("rate_only" if failures else "not_supported")
    if failures:
        assert one["model"]["rests_on"][1:] in page
        assert (one["policy"]["planned_age_interval_hours"]["low"], one["policy"]["near_best"]) == (None, [])
        assert one["policy"]["saving_settled"] is one["policy"]["saving_against_today_per_year"] is None
        assert one["policy"]["planned_age_hours"] == one["policy"]["planned"]["age_hours"]
        assert one["policy"]["run_to_failure_sentence"] in said
        for words in ("draws the cost", "Long-run cost by planned age", "Run to failure", "only the interval"):
            assert words not in page + said, words
    assert "Keep to" in one["headline"] or "keep to" in one["headline"] or "earlier of today's rule" in one["headline"]


def test_check_prints_counts_that_reconcile(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(study), "--first", "1"]) == 0
    shown = capsys.readouterr().out
    assert "the counts agree" in shown
    assert "records.hours_negative" in shown
    ledger = demo.saved()["body"]["ledger"]
    assert f"{ledger['rows_count']:,} rows = {ledger['used_count']:,} used" in shown


def test_many_lost_rows_warn_first_and_give_a_status_of_their_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('dates = "day-first"', 'dates = "month-first"'), encoding="utf-8")
    said = "rows were set aside: look at the findings"
    assert main(["check", str(file)]) == 4
    assert said in capsys.readouterr().out.splitlines()[1]
    # Lamps are due all the same, and status 3 says so first; the warning stands before every other figure.
    assert main(["run", str(file), "--out", str(tmp_path / "out")]) == 3
    shown = capsys.readouterr().out
    assert re.match(r"Lamps at or past their limit at their last reading: \d+ \(read the WARNING below", shown)
    warned = next(line for line in shown.splitlines() if line.startswith("WARNING: "))
    assert said in warned
    assert shown.index(warned) < shown.index("\nclass  ")
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert page.index("Do not act on this report yet") < page.index(said) < page.index("Change these lamps first")
    results = relamp.StudyResults.load(tmp_path / "out" / "results.json").to_dict()
    assert said in results["ledger"]["warning"]
    # Without a lamp that is due the status is the warning's own.
    body = {"overdue": {"at_limit": [], "soon": [], "age_unknown": []}, "doubts": []}
    assert command._status(body | {"ledger": {"warning": "x"}}) == 4
    assert command._status(body | {"ledger": {"warning": ""}}) == 0
    for rule, status in (("reason_heaped", 4), ("no_planned_reason", 4), ("no_burning_lamp", 4), ("one_cause", 0)):
        for outcome, expected in (("used", status), ("answered", 0)):
            doubts = [{"rule": f"study.{rule}", "outcome": outcome}]
            assert command._status(body | {"ledger": {"warning": ""}, "doubts": doubts}) == expected


def test_logs_without_a_burning_lamp_print_and_show_not_known_in_place_of_nought(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "study.toml"
    file.write_text(STUDY, encoding="utf-8")
    rows = [f"A{i},2 kW,S,{i},2025-01-01,2025-06-01,popped,{1000 + 40 * i}," for i in range(12)]
    head = "serial,class,site,screen,in,out,why,hours,read"
    (tmp_path / "log.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    out = tmp_path / "out"
    assert main(["run", str(file), "--out", str(out)]) == 4
    said = capsys.readouterr().out
    why = "no lamp of these logs burns"
    assert f"Lamps at or past their limit, of unknown age or soon at their limit: not known, as {why}" in said
    row = next(line for line in said.splitlines() if line.startswith("2 kW  "))
    # The saving a year, the next month, the spares and the order.
    assert row.count("not known") == 4
    assert f"2 kW: lamps needed and spares are not known: {why}" in said
    body = relamp.StudyResults.load(out / "results.json").to_dict()
    orders = body["orders"]
    assert (orders["order_lamps"], orders["order_price"], orders["not_known"]) == (None, None, why)
    assert body["classes"][0]["stock"] is None
    assert "at_or_past_limit=None" in repr(relamp.StudyResults.load(out / "results.json"))
    page = (out / "report.html").read_text(encoding="utf-8")
    assert f"Which lamps are at or past their limit, or soon will be, is not known, as {why}." in page
    assert f"How many lamps to order is not known, as {why}." in page
    assert "<p>Not known: No lamp of these logs burns.</p>" in page
    assert "No lamp was at or past its limit" not in page
    assert "No lamp has to be ordered" not in page


def test_what_the_study_file_answers_is_told_in_its_place_and_warns_of_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "study.toml"
    answer = '[[answer]]\nrule = "study.no_burning_lamp"\nbecause = "only removals are exported"\n'
    rows = [f"A{i},2 kW,S,{i},2025-01-01,2025-06-01,popped,{1000 + 40 * i}," for i in range(12)]
    head = "serial,class,site,screen,in,out,why,hours,read"
    (tmp_path / "log.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    planned = answer.replace("no_burning_lamp", "no_planned_reason").replace("only removals are exported", "so it is")
    file.write_text(STUDY + answer, encoding="utf-8")
    # One question of two is answered.
    assert main(["check", str(file)]) == 4
    said = capsys.readouterr().out
    assert "Answered in the study file:" in said
    assert "; answered in line " in said
    file.write_text(STUDY + answer + planned, encoding="utf-8")
    assert main(["check", str(file)]) == 0
    assert "WARNING" not in capsys.readouterr().out
    assert main(["run", str(file), "--out", str(tmp_path / "out")]) == 0
    assert "WARNING" not in capsys.readouterr().out
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "Asked by the records and answered in the study file" in page
    assert "only removals are exported" in page
    assert "Doubtful in what the study file declares" not in page


def test_exchanged_columns_are_refused_with_the_reason_and_the_column_map(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    exchanged = text.replace('fitted_on = "in"', 'fitted_on = "@"').replace('removed_on = "out"', 'removed_on = "in"')
    exchanged = exchanged.replace('fitted_on = "@"', 'fitted_on = "out"')
    assert exchanged != text
    file.write_text(exchanged, encoding="utf-8")
    for task in (["check", str(file)], ["run", str(file), "--out", str(tmp_path / "out")]):
        assert main(task) == 1
        said = capsys.readouterr().err
        assert "logs/south.csv: almost no row of the log can be used" in said
        assert 'fitted_on = "out", removed_on = "in"' in said
        assert "records.removed_before_fitted" in said
    assert not (tmp_path / "out").exists()


def test_every_mistake_of_a_study_file_is_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = demo.copy(tmp_path / "demo")
    wrong = "".join(f"wrong{i} = {i}\n" for i in range(45))
    text = file.read_text(encoding="utf-8").replace("[chain]\n", f"[chain]\n{wrong}")
    file.write_text(text, encoding="utf-8")
    assert main(["check", str(file)]) == 1
    said = capsys.readouterr().err
    lines = said.splitlines()
    # The first of a kind in full, and where the others stand.
    assert lines[0] == "relamp: 45 problems:"
    assert all(f"chain.wrong{i}:" in lines[1 + i] for i in range(10))
    first = text.splitlines().index("wrong10 = 10") + 1
    assert lines[11:] == [f"  and 35 more of this kind in {file}, lines {first} to {first + 34} [study.key_unknown]"]
    # Shown as the library words them, each kind for itself, and all of them if wanted.
    with pytest.raises(relamp.StudyError) as caught:
        relamp.Study.open(file)
    assert set(lines[1:11]) < set(str(caught.value).splitlines()[1:])
    assert main(["check", str(file), "--mistakes", "45"]) == 1
    assert capsys.readouterr().err == f"relamp: {caught.value}\n"
    file.write_text(text.replace("price = 780.0", "price = -780.0"), encoding="utf-8")
    assert main(["run", str(file), "--out", str(tmp_path / "out")]) == 1
    said = capsys.readouterr().err
    assert said.startswith("relamp: 46 problems:")
    assert "got -780.0, expected an amount above 0 and at most 1e12" in said


def test_check_lists_readings_too_old_as_a_run_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    study = demo.copy(tmp_path / "demo")
    text = study.read_text(encoding="utf-8")
    # A quarter of a year after the last reading.
    study.write_text(re.sub(r"as_of = \S+", "as_of = 2026-03-28", text, count=1), encoding="utf-8")
    assert main(["run", str(study), "--out", str(tmp_path / "out")]) == 3
    with open(tmp_path / "out" / "ledger.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    capsys.readouterr()
    assert main(["check", str(study), "--first", "0"]) == 0
    said = capsys.readouterr().out
    rules = [row["rule"] for row in rows]
    assert rules.count("study.reading_too_old") > 0
    # A doubt about the study file has a list of its own, which says that the stock count is old too.
    assert "the stock was counted 90 days before the as-of date" in said
    for rule in set(rules) - {"study.count_old"}:
        outcomes = {row["outcome"] for row in rows if row["rule"] == rule}
        for outcome in outcomes:
            n = sum(row["rule"] == rule and row["outcome"] == outcome for row in rows)
            assert f"{n:,} x {rule}, {outcome.replace('_', ' ')}" in said


def test_check_reads_depots_count_and_claims_as_a_run_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = demo.copy(tmp_path / "demo")
    assert main(["check", str(file)]) == 0
    assert (
        'Doubtful or wrong in the stock count: 1\n    stock.csv, line 27, store "Old depot": the place is none'
        in capsys.readouterr().out
    )
    with (file.parent / "claims.csv").open("a", encoding="utf-8") as out:
        out.write("NOT-OURS-1,2024-02-09,125,photo\n")
    assert main(["check", str(file)]) == 0
    said = capsys.readouterr().out
    assert "Doubtful or wrong in the file of claims: 1" in said
    assert "NOT-OURS-1: no lamp of this serial ended in these logs" in said
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('sites = [\n    "Site 01"', 'sites = [\n    "Site 99"', 1), encoding="utf-8")
    for task in (["check", str(file)], ["run", str(file), "--out", str(tmp_path / "out")]):
        assert main(task) == 1
        assert "Site 99" in capsys.readouterr().err


def test_one_run_tells_of_every_file_that_is_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    (file.parent / "claims.csv").write_text(
        "serial,filed_on,paid,evidence\nA1,someday,1,photo\nA2,2024-02-09,much,photo\nA1,2024-02-09,1,\n",
        encoding="utf-8",
    )
    (file.parent / "stock.csv").write_text("lamp_class;shop;on_hand\n2.0 kW;Depot North;1\n", encoding="utf-8")
    sites = text.replace('"Site 01", "Site 02",', '"Site 98", "Site 99",', 1)
    assert sites != text
    file.write_text(sites, encoding="utf-8")
    beside = (
        'depot "Depot North".sites: no row in use names this site',
        'got "Site 98"',
        'got "Site 99"',
        "stock.csv, line 1, column store",
        "claims.csv, row 1, line 2, column filed_on",
        "claims.csv, row 2, line 3, column paid",
        "claims.csv, line 4, column serial: a serial stands twice",
    )
    for task in (["check", str(file)], ["run", str(file), "--out", str(tmp_path / "out")]):
        assert main(task) == 1
        shown = capsys.readouterr()
        assert [words for words in beside if words not in shown.err] == []
        # What can be said of the logs is said all the same.
        assert ("the counts agree" in shown.out) == (task[0] == "check")
    # Beside a log that cannot be read, and beside a mistake in the list of depots itself.
    log = file.parent / "logs" / "north.csv"
    kept = log.read_bytes()
    log.unlink()
    assert main(["check", str(file)]) == 1
    said = capsys.readouterr().err
    assert "logs/north.csv: " in said
    assert [words for words in beside[3:] if words not in said] == []
    log.write_bytes(kept)
    file.write_text(sites.replace("days_to_site = 2", "days_to_site = -2", 1), encoding="utf-8")
    assert main(["check", str(file)]) == 1
    said = capsys.readouterr().err
    assert "days_to_site is not acceptable, got -2" in said
    assert [words for words in beside if words not in said] == []
    # A class that cannot be read leaves the logs without meaning; a file that is not there is told even then.
    file.write_text(sites.replace("price = 780.0", 'price = "780"', 1), encoding="utf-8")
    (file.parent / "stock.csv").unlink()
    assert main(["check", str(file)]) == 1
    said = capsys.readouterr().err
    assert 'class "2.0 kW".price' in said
    assert "stock.csv: " in said
    # Files of another folder are not looked at.
    file.write_text(sites.replace('file = "stock.csv"', 'file = "../stock.csv"', 1), encoding="utf-8")
    assert main(["check", str(file)]) == 1
    said = capsys.readouterr().err
    assert "the path of the stock count leaves the folder" in said
    assert "claims.csv" not in said


def test_many_doubts_of_one_kind_are_cut_on_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    more = "".join(f'[[programme]]\nsite = "Nowhere {i}"\nhours_per_week = 60.0\n\n' for i in range(25))
    file.write_text(text.replace("[[log]]", f"{more}[[log]]", 1), encoding="utf-8")
    assert main(["check", str(file), "--first", "1"]) == 0
    said = capsys.readouterr().out
    assert said.count("no row in use names this site") == 10
    assert "    and 15 more; a run writes all to ledger.csv" in said


def test_a_reason_that_may_stand_for_planned_changes_is_told_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    file.write_text(re.sub(r'(?m)^(".*") = "planned"$', r'\1 = "dim"', text), encoding="utf-8")
    assert main(["check", str(file), "--first", "0"]) == 4
    said = capsys.readouterr().out
    warned = [line for line in said.splitlines() if line.startswith("WARNING: ") and "stand within 5 h of" in line]
    assert warned
    assert said.index(warned[0]) < said.index("used + ")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("north.csv", "absent.csv"), "absent.csv"),
        (("format = 1", "format = 99"), "99"),
        (("price = ", "prize = "), "prize"),
        (("[chain]", "[chain"), "line"),
    ],
)
def test_errors_are_plain_words_without_a_traceback(
    change: tuple[str, str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = demo.copy(tmp_path / "demo")
    text = file.read_text(encoding="utf-8")
    assert change[0] in text
    file.write_text(text.replace(*change), encoding="utf-8")
    for call in (["check", str(file)], ["run", str(file), "--out", str(tmp_path / "out")]):
        assert main(call) == 1
        shown = capsys.readouterr()
        assert shown.out == ""
        assert shown.err.startswith("relamp: ")
        assert words in shown.err
        assert "Traceback" not in shown.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "call",
    [[], ["run"], ["run", "study.toml"], ["guess", "study.toml"], ["check", "study.toml", "--threads", "none"]],
)
def test_a_wrong_call_is_exit_status_2(call: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(call) == 2
    assert "usage: relamp" in capsys.readouterr().err


def test_help_names_the_exit_statuses(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", "--help"]) == 0
    shown = capsys.readouterr().out
    assert "exit status" in shown
    readme = " ".join((demo.ROOT / "README.md").read_text(encoding="utf-8").split())
    for status in ("0 where all is well", "1 after an error", "2 where the command line", "3 says", "4 says"):
        assert status in readme, status
    assert "3  run" in shown


def test_a_missing_study_is_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["check", str(tmp_path / "nothing.toml")]) == 1
    assert "nothing.toml" in capsys.readouterr().err


def test_a_cell_that_would_fill_the_terminal_is_cut_with_its_length(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = demo.copy(tmp_path / "demo")
    log = file.parent / "logs" / "south.csv"
    text = log.read_text(encoding="utf-8")
    assert ",2742,739," in text
    log.write_text(text.replace(",2742,739,", f",{'7' * 200_000}x,739,", 1), encoding="utf-8")
    assert main(["check", str(file), "--first", "50"]) == 0
    said = capsys.readouterr().out
    assert f'meter out "{"7" * 160}"... (200,001 characters): ' in said
    assert "7" * 161 not in said
    # So in an error.
    problem = relamp.Problem("records.date_two_readings", "reads two ways", "a.csv", 3, 4, "in", "1" * 999, "one way")
    told = command._mistakes(relamp.InputError("", [problem]), 10)
    assert "1" * 161 not in told
    assert "... (999 characters), expected one way [records.date_two_readings]" in told


def test_a_lower_bound_of_no_lamp_is_not_printed_as_one() -> None:
    bounds = {"spares": {"least_lamps": 0, "order_least_lamps": 2}}
    assert command._at_least(bounds, "least_lamps") == "not known"
    assert command._at_least(bounds, "order_least_lamps") == "at least 2"


def test_control_characters_never_reach_the_terminal() -> None:
    from relamp.command import _printable

    assert _printable("a\x1b[2Jb\nc") == "a\N{REPLACEMENT CHARACTER}[2Jb\N{REPLACEMENT CHARACTER}c"
