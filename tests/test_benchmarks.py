"""The benchmarks stay alive: each module's first measure can be taken."""

import importlib
import pkgutil
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
HELPERS = {"__main__", "by_processes", "generated_pours", "measure"}
MODULES = [module.name for module in pkgutil.iter_modules([str(ROOT / "benchmarks")]) if module.name not in HELPERS]


@pytest.mark.parametrize("name", MODULES)
def test_benchmark_gives_a_positive_first_measure(name, monkeypatch):
    monkeypatch.setattr(sys, "path", [str(ROOT), str(ROOT / "tests"), *sys.path])
    first = next(iter(importlib.import_module(f"benchmarks.{name}").run()))
    assert first.value > 0
    assert first.unit


def test_unknown_benchmark_is_named(monkeypatch, capsys):
    monkeypatch.setattr(sys, "path", [str(ROOT), *sys.path])
    main = importlib.import_module("benchmarks.__main__").main
    assert main(["nosuch"]) == 2
    assert "nosuch" in capsys.readouterr().err
