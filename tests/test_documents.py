"""README.md and DEVELOPERS.md keep up with the code."""

import re
from pathlib import Path

from django.apps import apps

ROOT = Path(__file__).resolve().parent.parent


def test_every_setting_of_a_clinic_is_in_the_readme() -> None:
    text = (ROOT / "clinic" / "settings.py").read_text(encoding="utf-8")
    names = set(re.findall(r'env\.\w+\(\s*"([A-Z_]+)"', text))
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(names) >= 9
    assert {name for name in names if f"`{name}`" not in readme} == set()


def test_every_model_is_in_the_table_of_personal_data() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("## Personal data per model")[1].split("## Glossary")[0]
    named = set(re.findall(r"[A-Z]\w+", "\n".join(re.findall(r"^\| ([^|]+) \|", table, re.M))))
    models = {
        m.__name__
        for label in ("clinic", "outcomes")
        for m in apps.get_app_config(label).get_models()
    }
    assert models - named == set()
    assert named - models == set()


def test_every_model_says_what_personal_data_it_holds() -> None:
    silent = [
        m.__name__
        for label in ("clinic", "outcomes")
        for m in apps.get_app_config(label).get_models()
        if "Personal data" not in " ".join((m.__doc__ or "").split())
        and not any("Personal data" in (b.__doc__ or "") for b in m.__mro__[1:2])
    ]
    assert silent == []
