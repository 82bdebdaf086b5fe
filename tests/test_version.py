"""One version: of the package as built, of the Python API and of the command."""

import tomllib
from pathlib import Path

from click.testing import CliRunner

import audiolevel as al
from audiolevel.cli import main

ROOT = Path(__file__).parents[1]


def test_the_build_the_api_and_the_command_say_the_same_version() -> None:
    tools = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]
    built = ROOT / tools["setuptools_scm"]["version_file"]
    last = tuple(map(int, tools["setuptools_scm"]["fallback_version"].split(".")))
    version = al.__version__
    # written by whoever builds or installs it
    if built.is_file():
        assert version == built.read_text(encoding="utf-8").strip()
    assert tuple(map(int, version.split(".")[:3])) >= last
    run = CliRunner().invoke(main, ["--version"])
    assert run.output == f"audiolevel, version {version}\n"


def test_every_package_is_built() -> None:
    tools = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]
    found = {one.parent.relative_to(ROOT) for one in (ROOT / "audiolevel").rglob("*.py")}
    folders = {".".join(one.parts) for one in found}
    assert set(tools["setuptools"]["packages"]) == folders | {"audiolevel.demo"}
    demo = tools["setuptools"]["package-dir"]["audiolevel.demo"]
    for name in tools["setuptools"]["package-data"]["audiolevel.demo"]:
        assert (ROOT / demo / name).is_file()
