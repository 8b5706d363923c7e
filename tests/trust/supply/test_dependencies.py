"""What bainlog stands on has no published hole: by an audit, else by a list kept in the tree."""

import json
import subprocess
import sys
import tomllib
from importlib.metadata import distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[3]
KNOWN = tomllib.loads(Path(__file__).with_name("known_bad.toml").read_text("utf-8"))


def holes(installed: dict[str, str]) -> list[str]:
    """Return each installed release that the list knows a hole of."""
    return [
        f"{bad['package']} {installed[bad['package']]}: {bad['id']}, {bad['what']}"
        for bad in KNOWN["bad"]
        if bad["package"] in installed
        and any(
            SpecifierSet(v).contains(installed[bad["package"]], prereleases=True)
            for v in bad["versions"]
        )
    ]


def audited() -> list[str] | None:
    """Return the holes that pip-audit finds; None where it or its data cannot be reached."""
    audit = [sys.executable, "-m", "pip_audit", "--skip-editable", "--progress-spinner", "off",
             "--timeout", "15", "-f", "json"]  # fmt: skip
    try:
        done = subprocess.run(audit, capture_output=True, text=True, check=False, timeout=90)
        found = json.loads(done.stdout)["dependencies"]
    except (subprocess.TimeoutExpired, ValueError, KeyError):
        return None
    known = [d for d in found if "skip_reason" not in d]
    if len(known) < 10:
        return None
    return [f"{d['name']} {d['version']}: {v['id']}" for d in known for v in d["vulns"]]


def test_dependencies_have_no_hole_that_an_audit_or_the_list_knows():
    """The list is always held against them; the audit where it can be made."""
    installed = {canonicalize_name(d.metadata["Name"]): d.version for d in distributions()}
    assert not holes(installed)
    found = audited()
    assert not found


def test_the_oldest_releases_that_the_project_admits_have_no_known_hole():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    oldest = {
        canonicalize_name(need.name): spec.version
        for need in map(Requirement, project["dependencies"])
        for spec in need.specifier
        if spec.operator in (">=", "==")
    }
    assert len(oldest) > 15
    assert not holes(oldest)


@pytest.mark.parametrize(
    ("package", "version", "bad"),
    [
        ("waitress", "3.0.0", True), ("waitress", "3.0.1", False), ("pyarrow", "14.0.0", True),
        ("dash", "2.14.2", True), ("pydantic", "2.3.0", True), ("pydantic", "1.10.13", False),
    ],
)  # fmt: skip
def test_the_list_finds_a_bad_release_and_lets_a_mended_one_pass(package, version, bad):
    assert bool(holes({package: version})) is bad


def test_each_row_of_the_list_says_what_it_must():
    for bad in KNOWN["bad"]:
        assert set(bad) == {"package", "versions", "id", "what"}
        assert bad["id"].startswith("CVE-")
        assert bad["package"] == canonicalize_name(bad["package"])
        assert all(SpecifierSet(v) for v in bad["versions"])
    assert KNOWN["dated"].isoformat() <= "2099-01-01"
    assert Version("1.0") in SpecifierSet("<2")
