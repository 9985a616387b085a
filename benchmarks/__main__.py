"""Run every module here that has a `run()`: python -m benchmarks [name …]."""

import importlib
import pkgutil
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent


def main(names: list[str]) -> int:
    """Run the named benchmarks, or all of them."""
    # The process-style baseline and the workloads are the tests' own, so that both are checked.
    sys.path.insert(0, str(ROOT / "tests"))
    helpers = {"__main__", "by_processes", "generated_pours", "measure"}
    found = [module.name for module in pkgutil.iter_modules([str(ROOT / "benchmarks")]) if module.name not in helpers]
    unknown = sorted(set(names) - set(found))
    if unknown:
        print(f"no benchmark {', '.join(unknown)}; there are {', '.join(found)}", file=sys.stderr)
        return 2
    for name in names or found:
        module = importlib.import_module(f"benchmarks.{name}")
        print(f"\n{name}: {(module.__doc__ or '').splitlines()[0]}", flush=True)
        for measure in module.run():
            print(f"  {measure}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
