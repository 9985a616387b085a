"""Wheel with the compiled core for this platform where there is a C compiler, else a pure one with the plain core.

The field app is in it where it has been built before.
"""

import importlib.util
import sys
import sysconfig
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

CORE = Path("src/wetfront/placing/core")
APP = Path("src/wetfront/api/app_files")


class CoreBuildHook(BuildHookInterface):  # type: ignore[type-arg]
    """Builds the core and takes the built app in before the wheel is packed.

    The library needs no Python ABI, so one wheel serves all versions.
    """

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Called by hatchling for each wheel; an editable install uses the library in the source folder."""
        app = Path(self.root) / APP
        if (app / "index.html").is_file():
            if version == "standard":
                build_data["force_include"][str(app)] = "wetfront/api/app_files"
        else:
            print("the field app is not built (`make app`): a wheel without it is made", file=sys.stderr)
        spec = importlib.util.spec_from_file_location("core_build", Path(self.root) / CORE / "build.py")
        assert spec is not None and spec.loader is not None
        build = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(build)
        try:
            library = build.build()
        except build.subprocess.CalledProcessError as error:
            print(f"{error.stderr}\nthe compiled core could not be built: a pure wheel is made", file=sys.stderr)
            return
        if library is None:
            print("no C compiler: a pure wheel is made, which simulates in plain Python", file=sys.stderr)
            return
        platform = sysconfig.get_platform().replace("-", "_").replace(".", "_")
        build_data["pure_python"] = False
        build_data["tag"] = f"py3-none-{platform}"
        if version == "standard":
            build_data["force_include"][str(library)] = f"wetfront/placing/core/{library.name}"
