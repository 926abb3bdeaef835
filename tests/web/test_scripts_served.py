"""Scripts as they are served: lean, and few enough for a phone beside the straight with a weak signal."""

import gzip
import posixpath
import re
from collections.abc import Callable, Iterator

import pytest
from django.core.files.storage import FileSystemStorage
from django.test import Client

from sessions.models import Focus
from teamtrack.common.bundled_scripts import NotBundledError, bundle
from teamtrack.common.clock import today_in
from teamtrack.common.lean_scripts import lean_script
from teamtrack.common.static_files import HashedFiles
from teamtrack.common.web.phone import STATIC_DIR
from tests.people import Scene, make_athlete

IMPORTED = re.compile(r'(?:from|import)\s*"(\.[^"]+)"')
PLAIN = re.compile(r"\.[0-9a-f]{12}(?=\.js$)")
LOADED = re.compile(r'<(?:script|link)[^>]*(?:src|href)="/static/([^"]+\.(?:js|css|svg))"')
SCRIPT_BYTES, FIRST_LOAD_BYTES = 30_000, 60_000
ATHLETES = 12


@pytest.mark.parametrize(
    ("text", "lean"),
    [
        ("// why\nlet a = 1;\n\n  a += 1; // kept\n", "let a = 1;\na += 1; // kept\n"),
        ("/** What\n * it does. */\nf();\n", "f();\n"),
        ("/* one line */\n  f();\n", "f();\n"),
        ('  f("// not a comment");\n', 'f("// not a comment");\n'),
        ("  f(`one ${line}`);\n", "f(`one ${line}`);\n"),
    ],
)
def test_a_script_loses_what_only_its_authors_need(text: str, lean: str) -> None:
    assert lean_script(text) == lean


@pytest.mark.parametrize(
    "text",
    [
        "const a = `two\n  // lines`;\n",
        'const a = "two \\\n  lines";\n',
        "/* a */ f();\n",
        "/*\n * a */ f();\n",
        "f();\n/* no end\n",
    ],
)
def test_a_script_that_lines_do_not_tell_apart_stays_as_it_is(text: str) -> None:
    assert lean_script(text) == text


MODULES = {
    "js/pages/one.js": 'import { two as deux, Three } from "../two.js";\nimport "../three.js";\ndeux(new Three());\n',
    "js/two.js": 'import { Three } from "./three.js";\nexport { Three };\n',
    "js/three.js": "export class Three {}\n",
    "js/ring.js": 'import { a } from "./ring.js";\n',
    "js/default.js": "export default 3;\n",
    "js/star.js": 'import * as all from "./three.js";\n',
    "js/later.js": 'import("./three.js");\n',
    "js/changed.js": "export let a = 1;\n",
}


def test_modules_are_joined_in_the_order_in_which_they_run() -> None:
    modules = MODULES | {"js/two.js": 'import { Three } from "./three.js";\nexport const two = (one) => one;\n'}
    joined = bundle("js/pages/one.js", modules.__getitem__)
    assert joined.split("})();\n")[:-1] == [
        "const $$0 = (() => {\nclass Three {}\nreturn { Three };\n",
        "const $$1 = (() => {\nconst { Three } = $$0;\nconst two = (one) => one;\nreturn { two };\n",
        "const $$2 = (() => {\nconst { two: deux, Three } = $$1;\ndeux(new Three());\nreturn {  };\n",
    ]


@pytest.mark.parametrize("name", ["two", "ring", "default", "star", "later", "changed"])
def test_a_module_that_cannot_be_joined_is_named(name: str) -> None:
    with pytest.raises(NotBundledError, match=name):
        bundle(f"js/{name}.js", MODULES.__getitem__)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[str], bytes]]:
    """The house's static files as they are stored for serving: bytes by name, each as it is sent (compressed)."""
    source = FileSystemStorage(STATIC_DIR)
    names = [path.relative_to(STATIC_DIR).as_posix() for path in STATIC_DIR.rglob("*") if path.is_file()]
    folder = tmp_path_factory.mktemp("static")
    stored = HashedFiles(location=str(folder), base_url="/static/")
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes((STATIC_DIR / name).read_bytes())
    found = {}
    for name, hashed, processed in stored.post_process({name: (source, name) for name in names}):
        assert not isinstance(processed, Exception), processed
        if hashed and not hashed.endswith(".gz"):
            found[name] = hashed
    yield lambda name: (folder / found[name]).read_bytes()


def loaded_with(served: Callable[[str], bytes], first: list[str]) -> int:
    """Bytes of the scripts that a page loads before it works: those it names, and what these import at once."""
    seen: dict[str, int] = {}
    todo = list(first)
    while todo:
        name = todo.pop()
        if name not in seen:
            script = served(name)
            seen[name] = sent(script)
            todo += [
                posixpath.normpath(f"{posixpath.dirname(name)}/{PLAIN.sub('', path)}")
                for path in IMPORTED.findall(script.decode())
            ]
    return sum(seen.values())


def sent(content: bytes) -> int:
    return len(gzip.compress(content, 9))


def test_the_first_load_of_a_session_is_small(
    scene: Scene, signed_in: Callable[..., Client], served: Callable[[str], bytes]
) -> None:
    """Page, first data, style and scripts, each compressed by itself as it is sent."""
    day = today_in(scene.club.timezone)
    for number in range(ATHLETES):
        athlete = make_athlete(scene.club, f"Runner{number}", scene.group, account=False)
        scene.training_session.session_athletes.create(club=scene.club, athlete=athlete)
        Focus.objects.create(club=scene.club, athlete=athlete, feature=scene.feature, since=day, set_by=scene.coach)
    client = signed_in(scene.coach)
    page = client.get(f"/coach/sessions/{scene.training_session.pk}", headers={"accept-encoding": "gzip"})
    assert page["Content-Encoding"] == "gzip"
    bundle = client.get(f"/api/v1/sessions/{scene.training_session.pk}?as=coach", headers={"accept-encoding": "gzip"})
    assert bundle["Content-Encoding"] == "gzip"
    named = set(LOADED.findall(gzip.decompress(page.content).decode()))
    assert {"js/pages/trackside.js", "css/trackside.css"} <= named
    script_bytes = loaded_with(served, [name for name in named if name.endswith(".js")])
    assert script_bytes < SCRIPT_BYTES
    other_bytes = sum(sent(served(name)) for name in named if not name.endswith(".js"))
    assert script_bytes + other_bytes + len(page.content) + len(bundle.content) < FIRST_LOAD_BYTES
