"""What is handed to users: the VS Code package and Helix's settings. `run.sh` installs the tools."""

import json
import subprocess
import zipfile
from pathlib import Path

import pytest

try:
    import tomllib
except ModuleNotFoundError:
    import tomli as tomllib

ROOT = Path(__file__).resolve().parents[2]
EDITORS = ROOT / "lsp" / "editors"
VSCODE = EDITORS / "vscode"


def run(*command, folder=VSCODE):
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    path = tmp_path_factory.mktemp("vsix") / "coatwright.vsix"
    run("npm", "run", "--silent", "package", "--", "--out", path)
    return path


def test_the_extension_is_sound():
    run("npm", "run", "--silent", "check")


def test_the_package_holds_what_it_should(package):
    with zipfile.ZipFile(package) as vsix:
        assert sorted(vsix.namelist()) == [
            "[Content_Types].xml",
            "extension.vsixmanifest",
            "extension/language-configuration.json",
            "extension/out/LICENSE-APACHE",
            "extension/out/LICENSE-MIT",
            "extension/out/extension.js",
            "extension/out/trim.tmLanguage.json",
            "extension/package.json",
            "extension/readme.md",
        ]
        grammar = (EDITORS / "textmate" / "trim.tmLanguage.json").read_bytes()
        assert vsix.read("extension/out/trim.tmLanguage.json") == grammar
        manifest = json.loads(vsix.read("extension/package.json"))
        assert {c["category"] + ": " + c["title"] for c in manifest["contributes"]["commands"]} >= {
            "Coatwright: dog on the table",
            "Coatwright: live sheet",
        }
        # Nothing of the machine it was built on.
        assert str(ROOT).encode() not in vsix.read("extension/out/extension.js")


def test_the_packaged_extension_starts(package, tmp_path):
    with zipfile.ZipFile(package) as vsix:
        vsix.extractall(tmp_path)
    run("node", Path(__file__).with_name("extension.mjs"), tmp_path)


def test_helix_settings():
    settings = tomllib.loads((EDITORS / "helix" / "languages.toml").read_text(encoding="utf-8"))
    (language,) = settings["language"]
    assert language["file-types"] == ["trim"]
    assert set(language["language-servers"]) == set(settings["language-server"])
    (grammar,) = settings["grammar"]
    assert grammar["name"] == language["name"]
    assert grammar["source"]["path"].endswith("lsp/editors/tree-sitter-trim")


@pytest.mark.parametrize("manifest", [VSCODE / "package.json", Path(__file__).with_name("package.json")], ids=lambda p: p.parent.name)
def test_versions_are_pinned(manifest):
    said = json.loads(manifest.read_text(encoding="utf-8"))
    lock = json.loads(manifest.with_name("package-lock.json").read_text(encoding="utf-8"))
    for name, version in {**said.get("dependencies", {}), **said.get("devDependencies", {})}.items():
        assert version == lock["packages"][f"node_modules/{name}"]["version"]


def test_readmes_are_short():
    for folder in ["nvim", "helix", "emacs"]:
        # One page of a small window: setting it up, and what can be done then.
        assert len((EDITORS / folder / "README.md").read_text(encoding="utf-8").splitlines()) <= 20
