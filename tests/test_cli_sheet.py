"""`wetfront new`, `check` and `schema` from outside: prints, exit codes, and nothing left half-written."""

import json
import os
import time
from pathlib import Path

import pytest

from sheets import NAMES, TARNWICK, tree_of, written
from wetfront.cli import main
from wetfront.cli.files import CannotWrite, write_atomically
from wetfront.intake.template import KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_a_new_sheet_passes_its_check_as_it_stands(kind, tmp_path, capsys):
    path = str(tmp_path / "pour.toml")
    assert main(["new", path, "--kind", kind]) == 0
    assert main(["check", path]) == 0
    assert "the sheet is complete" in capsys.readouterr().out
    assert os.listdir(tmp_path) == ["pour.toml"]


@pytest.mark.parametrize("name", NAMES)
def test_the_check_prints_the_net_volume(name, capsys):
    assert main(["check", str(TARNWICK / f"{name}.toml")]) == 0
    volume = {"slab": "215.100 m³ net", "wall": "14.070 m³ net", "raft": "194.400 m³ net"}[name]
    assert volume in capsys.readouterr().out


def test_a_day_behind_the_forecast_is_told(capsys):
    main(["check", str(TARNWICK / "wall.toml")])
    lines = capsys.readouterr().out.split("\n")
    told = [place for place, line in enumerate(lines) if "no forecast for that day yet" in line]
    assert len(told) == 1
    assert "panel-2" in lines[told[0] - 2]


def test_a_sheet_that_is_there_is_never_overwritten(tmp_path, capsys):
    path = tmp_path / "pour.toml"
    path.write_text("mine", encoding="utf-8")
    assert main(["new", str(path)]) == 2
    assert path.read_text(encoding="utf-8") == "mine"
    assert os.listdir(tmp_path) == ["pour.toml"]
    assert "is there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    "place", ["/proc/pour.toml", "/dev/null/pour.toml", "no such folder/pour.toml", "x" * 300, "a\0b"]
)
@pytest.mark.parametrize("command", [["new"], ["schema", "--out"]])
def test_a_place_that_cannot_be_written_ends_with_2_and_leaves_nothing(command, place, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main([*command, place]) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert os.listdir(tmp_path) == []


def test_a_read_only_folder_is_told(tmp_path, monkeypatch, capsys):
    """The refusal of the system is acted out, since tests may run as a user who is refused nothing."""

    def refused(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("wetfront.cli.files.tempfile.mkstemp", refused)
    assert main(["new", str(tmp_path / "pour.toml")]) == 2
    assert "Permission denied" in capsys.readouterr().err
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("error", [KeyboardInterrupt, OSError(28, "No space left on device")])
def test_what_was_there_stays_when_the_writing_is_broken_off(error, tmp_path, monkeypatch):
    path = tmp_path / "kept.txt"
    path.write_text("before", encoding="utf-8")

    def broken(_handle):
        raise error

    monkeypatch.setattr("wetfront.cli.files.os.fsync", broken)
    with pytest.raises((KeyboardInterrupt, CannotWrite)):
        write_atomically(path, b"after")
    assert path.read_text(encoding="utf-8") == "before"
    assert os.listdir(tmp_path) == ["kept.txt"]


def test_a_written_file_has_the_rights_that_any_new_file_has(tmp_path):
    (tmp_path / "plain").write_bytes(b"")
    write_atomically(tmp_path / "whole", b"all of it")
    assert (tmp_path / "whole").read_bytes() == b"all of it"
    assert (tmp_path / "whole").stat().st_mode == (tmp_path / "plain").stat().st_mode


def refused(path: Path, capsys) -> str:
    start = time.process_time()
    assert main(["check", str(path)]) == 2
    assert time.process_time() - start < 10
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err


def test_a_sheet_of_50_mb_is_refused_unread(tmp_path, capsys):
    path = tmp_path / "pour.toml"
    with path.open("wb") as stream:
        stream.truncate(50_000_000)
    assert "found 50.0 MB; allowed: a pour sheet (TOML) of at most 1 MB" in refused(path, capsys)


def test_a_sheet_of_100_000_elements_is_refused(tmp_path, capsys):
    path = written(tmp_path, {**tree_of("slab"), "element": [{}] * 100_000})
    assert "found 100000 elements; allowed: at most 2000 elements" in refused(path, capsys)
    lines = "".join(f'[[element]]\nid = "e{number}"\n' for number in range(100_000))
    path.write_text(lines, encoding="utf-8")
    assert "MB; allowed: a pour sheet (TOML) of at most 1 MB" in refused(path, capsys)


@pytest.mark.parametrize("data", [b"\x7fELF\x00\x01", b"\xff\xfe\x00", b"caf\xe9 = 1", bytes(range(256))])
def test_a_binary_file_is_refused(data, tmp_path, capsys):
    path = tmp_path / "pour.toml"
    path.write_bytes(data)
    assert "plain text in UTF-8" in refused(path, capsys)


def test_a_sheet_that_is_not_there_or_a_folder_is_refused(tmp_path, capsys):
    assert "no such file" in refused(tmp_path / "pour.toml", capsys)
    assert "not a plain file" in refused(tmp_path, capsys)
    assert "not a plain file" in refused(Path("/dev/zero"), capsys)


def test_text_that_is_no_toml_is_told_with_its_line(tmp_path, capsys):
    path = tmp_path / "pour.toml"
    path.write_text('schema = 1\nproject = "x\n', encoding="utf-8")
    assert "pour.toml:2: found no valid TOML" in refused(path, capsys)


def test_a_gap_in_the_weather_is_told_with_the_sheet_s_own_mistakes(tmp_path, capsys):
    lines = (TARNWICK / "weather-forecast.csv").read_text(encoding="utf-8").split("\n")
    del lines[20:22]
    (tmp_path / "weather.csv").write_text("\n".join(lines), encoding="utf-8")
    tree = tree_of("slab")
    tree["weather"] = {"forecast": "weather.csv"}
    tree["trucks"]["count_promised"] = 0
    err = refused(written(tmp_path, tree), capsys)
    assert "weather.csv:21: time_local: found a gap: 2 hours are missing" in err
    assert "trucks.count_promised: found 0" in err
    assert err.endswith("2 mistakes in the sheet\n")


def test_a_named_file_that_is_not_there_is_told(tmp_path, capsys):
    tree = tree_of("slab")
    tree["weather"] = {"forecast": "weather.csv"}
    tree["readiness"] = {"file": "list.csv"}
    err = refused(written(tmp_path, tree), capsys)
    assert "weather.csv: found no such file" in err
    assert "list.csv: found no such file" in err


def test_the_schema_is_printed_as_json_and_the_keys_as_a_page(tmp_path, capsys):
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["title"].startswith("wetfront pour sheet")
    assert main(["schema", "--keys", "--out", str(tmp_path / "keys.md")]) == 0
    assert "| `thickness_mm` |" in (tmp_path / "keys.md").read_text(encoding="utf-8")
