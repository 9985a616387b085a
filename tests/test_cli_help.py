"""The door of the command line: what it answers, its exit codes, and that asking for help loads nothing heavy."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from wetfront import __version__
from wetfront.calculations import calculation, names
from wetfront.cli.calc import MOST_BYTES
from wetfront.cli.main import main, parser

HEAVY = ("scipy", "sqlalchemy", "fastapi", "numpy", "pydantic", "shapely", "typst", "openpyxl", "icalendar")
COMMANDS = tuple(
    next(action for action in parser()._actions if action.dest == "command").choices  # the grammar knows its commands
)
RISE = {"calculation": "rise-rate", "inputs": {"placing_rate_m3_per_h": 18, "plan_area_m2": 7.2}}


def run(*arguments: str, text: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "wetfront", *arguments],
        input=text,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


def modules_after(*arguments: str) -> set[str]:
    """The top-level modules loaded when a command has run to its end."""
    code = (
        "import sys, io, contextlib\n"
        "from wetfront.cli.main import main\n"
        "with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):\n"
        "    main(sys.argv[1:])\n"
        "print('\\n'.join({name.partition('.')[0] for name in sys.modules}))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True, encoding="utf-8"
    )
    return set(done.stdout.split())


@pytest.mark.parametrize("arguments", [["--help"], *([command, "--help"] for command in COMMANDS)], ids=" ".join)
def test_help_loads_nothing_heavy(arguments):
    loaded = modules_after(*arguments)
    assert "wetfront" in loaded
    assert not loaded & set(HEAVY)


def test_what_few_need_is_not_loaded_by_the_server_nor_by_a_check():
    """A spreadsheet reader, a calendar writer and the database's migrations wait until they are needed."""
    code = "import sys, wetfront.api.running, wetfront.cli.check\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, encoding="utf-8")
    assert not set(done.stdout.split()) & {"openpyxl", "icalendar", "alembic"}


def test_the_rule_books_load_nothing_heavy():
    assert not modules_after("rules") & set(HEAVY)


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_each_command_is_printed(command, capsys):
    with pytest.raises(SystemExit) as left:
        main([command, "--help"])
    assert left.value.code == 0
    assert capsys.readouterr().out.startswith(f"usage: wetfront {command}")


def test_every_command_stands_in_the_help_with_what_it_does(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    lines = capsys.readouterr().out.splitlines()
    for command in COMMANDS:
        line = next(line for line in lines if line.split()[:1] == [command])
        assert len(line.split()) > 2


def test_version():
    done = run("--version")
    assert (done.returncode, done.stdout) == (0, f"wetfront {__version__}\n")


@pytest.mark.parametrize("arguments", [["no-such-command"], [], ["calc", "--no-such-option"]])
def test_what_the_grammar_does_not_know_ends_with_2(arguments):
    done = run(*arguments)
    assert done.returncode == 2
    assert "usage: wetfront" in done.stderr
    assert done.stdout == ""


def test_list_names_every_calculation_with_its_title(capsys):
    assert main(["calc", "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines] == list(names())
    assert all(line.endswith(calculation(name).title) for line, name in zip(lines, names(), strict=True))


@pytest.mark.parametrize("name", names())
def test_explain_prints_method_source_and_each_key_with_its_range(name, capsys):
    contract = calculation(name)
    assert main(["calc", name, "--explain"]) == 0
    out = capsys.readouterr().out
    assert contract.method in out
    assert contract.source.citation in out
    for key in contract.inputs:
        line = next(line for line in out.splitlines() if line.split()[:1] == [key.key])
        assert key.meaning in line
        assert key.allowed in line
    for output in contract.outputs:
        assert any(line.split()[:1] == [output.key] for line in out.splitlines())


def test_explain_of_an_unknown_name_offers_the_nearest(capsys):
    assert main(["calc", "rise-rat", "--explain"]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["input"] == "calculation"
    assert "did you mean rise-rate?" in error["message"]


def test_calc_without_a_name_ends_with_2():
    done = run("calc")
    assert done.returncode == 2
    assert "--list" in done.stderr


def test_one_question_from_standard_input_and_from_a_file(tmp_path):
    file = tmp_path / "rise.json"
    file.write_text(json.dumps(RISE["inputs"]), encoding="utf-8")
    piped = run("calc", "rise-rate", text=json.dumps(RISE["inputs"]))
    from_file = run("calc", "rise-rate", "--input", str(file))
    assert piped.returncode == from_file.returncode == 0
    assert piped.stdout == from_file.stdout
    assert json.loads(piped.stdout)["result"]["rise_rate_m_per_h"] == 2.5


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("{", "inputs"),
        ("[]", "inputs"),
        ("", "inputs"),
        ("[" * 100_000, "inputs"),
        ('{"placing_rate_m3_per_h": 18}', "plan_area_m2"),
        ('{"placing_rate_m3_per_h": 18, "plan_area_m2": 0}', "plan_area_m2"),
        ('{"placing_rate_m3_per_h": NaN, "plan_area_m2": 7}', "placing_rate_m3_per_h"),
        ('{"placing_rate_m3_per_h": 1e999, "plan_area_m2": 7}', "placing_rate_m3_per_h"),
        ('{"placing_rate_m3_per_h": true, "plan_area_m2": 7}', "placing_rate_m3_per_h"),
        ('{"placing_rate_m3_per_h": "18", "plan_area_m2": 7}', "placing_rate_m3_per_h"),
        ('{"placing_rate_m3_per_h": 18, "plan_area_m2": 7, "slope": 1}', "slope"),
    ],
)
def test_a_bad_question_is_one_error_that_names_its_key(text, key):
    done = run("calc", "rise-rate", text=text)
    assert done.returncode == 2
    answer = json.loads(done.stdout)
    assert list(answer) == ["error"]
    assert answer["error"]["input"] == key
    assert answer["error"]["message"]
    assert done.stderr == ""


def test_a_missing_and_a_binary_file_are_errors_of_the_input(tmp_path):
    binary = tmp_path / "load.bin"
    binary.write_bytes(bytes(range(256)))
    for file in (tmp_path / "none.json", binary, tmp_path):
        done = run("calc", "rise-rate", "--input", str(file))
        assert done.returncode == 2
        assert json.loads(done.stdout)["error"]["input"] == "inputs"


def test_batch_passes_over_blank_lines_and_answers_a_bad_line_in_its_place():
    lines = [
        json.dumps(RISE),
        "",
        "not json",
        "   ",
        "[1, 2]",
        '{"inputs": {}}',
        '{"calculation": "no-such", "inputs": {}}',
        '{"calculation": "rise-rate"}',
        json.dumps(RISE),
    ]
    done = run("calc", "--batch", text="\n".join(lines))
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    errors = [answer.get("error", {}).get("input") for answer in answers]
    assert errors == [None, "inputs", "inputs", "calculation", "calculation", "placing_rate_m3_per_h", None]
    assert answers[0] == answers[-1]
    assert done.returncode == 2


def test_a_fault_of_the_program_never_looks_like_an_answer(monkeypatch, capsys):
    """1 means "no pour may go ahead"; an exception of ours must not end with it."""
    monkeypatch.setattr("wetfront.cli.calc.run", lambda arguments: 1 // 0)
    assert main(["calc", "--list"]) == 70
    assert "fault of the program" in capsys.readouterr().err


def test_a_lone_surrogate_is_an_error_in_its_line_and_stops_nothing():
    done = run(
        "calc", "--batch", text='{"calculation": "rise-rate", "inputs": {"\\ud800": 1}}\n' + json.dumps(RISE) + "\n"
    )
    first, second = map(json.loads, done.stdout.splitlines())
    assert first["error"]["input"] == "\ud800"
    assert "result" in second


def test_batch_of_good_lines_ends_with_0_and_an_empty_one_too():
    assert run("calc", "--batch", text=json.dumps(RISE) + "\n").returncode == 0
    nothing = run("calc", "--batch", text="\n\n")
    assert (nothing.returncode, nothing.stdout) == (0, "")


@pytest.mark.parametrize("arguments", [["calc", "--batch"], ["calc", "rise-rate"]])
def test_an_input_that_is_too_big_is_refused(arguments, tmp_path):
    big = tmp_path / "big.json"
    with big.open("wb") as stream:
        stream.truncate(MOST_BYTES + 1)
    done = run(*arguments, "--input", str(big))
    assert done.returncode == 2
    error = json.loads(done.stdout)["error"]
    assert error["input"] == "inputs"
    assert str(MOST_BYTES) in error["message"]


def test_a_reader_that_has_gone_is_no_error():
    done = subprocess.run(
        ["sh", "-c", f"{sys.executable} -m wetfront rules --json | head -c 1"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == "{"
    assert "Traceback" not in done.stderr


# The rule books


def test_rules_lists_all_books_with_what_is_from_memory_in_words():
    done = run("rules")
    assert done.returncode == 0
    for name in ("en", "aci", "is", "as", "practice"):
        assert f"\n{name}: " in f"\n{done.stdout}"
    line = next(line for line in done.stdout.splitlines() if "evaporation-precaution-low-bleed" in line)
    assert line.endswith("FROM MEMORY")


def test_one_rule_stands_side_by_side_over_the_books():
    done = run("rules", "delivery-time-agitated")
    head, limits = (next(line for line in done.stdout.splitlines() if key in line) for key in (" aci ", "limit "))
    assert head.split() == ["en", "aci", "is", "as"]
    assert limits.count("at most") == 4
    for book, limit in (("en", "at most 120 min"), ("aci", "at most 90 min"), ("is", "at most 120 min")):
        assert limits[head.index(f" {book} ") + 1 :].startswith(limit)
    assert "FROM MEMORY: check the" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 120


def test_one_rule_of_one_book_shows_source_and_note():
    done = run("rules", "delivery-time-agitated", "--book", "en")
    assert "BS 8500-2:2015+A2:2019, 14.2" in done.stdout
    assert "waiting there is not counted" in done.stdout
    assert "IS 4926" not in done.stdout


def test_rules_as_json():
    found = json.loads(run("rules", "concrete-temperature-least", "--json").stdout)
    assert [one["book"] for one in found["books"]] == ["en", "aci", "as"]
    assert found["no_such_rule_in"] == ["is", "nz", "practice"]
    rows = found["books"][1]["rows"]
    assert [row["least"] for row in rows] == [13, 10, 7, 5]
    assert [row["provenance"] for row in rows] == ["published", "published", "from memory", "from memory"]
    remembered = json.loads(run("rules", "--from-memory", "--json").stdout)["rules"]
    assert remembered
    assert all(one["rests_on_memory"] for one in remembered)


def test_rules_are_searched_by_word():
    done = run("rules", "--search", "slump", "spot")
    assert done.returncode == 0
    assert "slump-spot-limits" in done.stdout
    assert "delivery-time" not in done.stdout
    assert run("rules", "--search", "quicksilver").stdout == "no rule speaks of that\n"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["freefall"], "did you mean free-fall?"),
        (["drum-turns", "--book", "en"], "it stands in: aci"),
        (["--book", "din"], "known: en, aci, is, as, nz, practice"),
        (["free-fall", "--search", "fall"], "not both"),
    ],
)
def test_a_wrong_question_to_the_rule_books_ends_with_2(arguments, says):
    done = run("rules", *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr


# The method pages


def test_docs_refuses_a_folder_without_cases_and_one_it_cannot_write(tmp_path):
    none = run("docs", str(tmp_path / "pages"), "--cases", str(tmp_path))
    assert none.returncode == 2
    assert "no check cases" in none.stderr
    assert not (tmp_path / "pages").exists()
    taken = tmp_path / "taken"
    taken.write_text("a file", encoding="utf-8")
    cases = Path(__file__).parent / "reference"
    done = run("docs", str(taken), "--cases", str(cases))
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert taken.read_text(encoding="utf-8") == "a file"


@pytest.mark.parametrize(
    ("text", "says"),
    [("[[case]", "bad.toml"), ('[[case]]\nid = "a"', "case 1"), ('case = ["a"]', "case 1")],
)
def test_docs_refuses_a_broken_case_file(tmp_path, text, says):
    (tmp_path / "bad.toml").write_text(text, encoding="utf-8")
    done = run("docs", str(tmp_path / "pages"), "--cases", str(tmp_path))
    assert done.returncode == 2
    assert says in done.stderr
    assert not (tmp_path / "pages").exists()


def test_inputs_may_begin_with_the_mark_that_some_editors_write(tmp_path, capsys):
    path = tmp_path / "rise.json"
    path.write_bytes(b"\xef\xbb\xbf" + json.dumps(RISE["inputs"]).encode())
    assert main(["calc", "rise-rate", "--input", str(path)]) == 0
    assert json.loads(capsys.readouterr().out)["result"] == {"rise_rate_m_per_h": 2.5}


@pytest.mark.parametrize("kind", ["missing", "folder", "binary"])
def test_inputs_that_cannot_be_read_are_told_in_plain_words(kind, tmp_path, capsys):
    path = tmp_path / "inputs"
    if kind == "folder":
        path.mkdir()
    elif kind == "binary":
        path.write_bytes(bytes(range(256)))
    assert main(["calc", "rise-rate", "--input", str(path)]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["input"] == "inputs"
    said = {"missing": "No such file", "folder": "directory", "binary": "not text in UTF-8: byte 0x80 at 128"}
    assert said[kind] in error["message"] and "Errno" not in error["message"]
