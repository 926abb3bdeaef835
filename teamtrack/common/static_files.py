"""How static files are stored for serving: lean, compressed and named by their content, modules too."""

from collections.abc import Iterator
from fnmatch import fnmatch
from typing import Any

from django.core.files.base import ContentFile, File
from django.core.files.storage import Storage
from whitenoise.storage import CompressedManifestStaticFilesStorage

from teamtrack.common.bundled_scripts import bundle
from teamtrack.common.lean_scripts import lean_script

_IMPORTS = CompressedManifestStaticFilesStorage._js_module_import_aggregation_patterns[1]
OWN_SCRIPTS = "js/*.js"
"""The house's own, in folders below too; scripts of packages stay as they come."""


BUNDLED = "js/pages/*.js"
"""All that one page runs: served as one file."""


class _LeanScripts:
    """A storage whose scripts are read without what only their authors need, those of a page joined."""

    def __init__(self, storage: Storage) -> None:
        self.storage = storage

    def open(self, path: str) -> File:
        text = bundle(path, self._read) if fnmatch(path, BUNDLED) else self._read(path)
        return ContentFile(text.encode(), name=path)

    def _read(self, path: str) -> str:
        with self.storage.open(path) as script:
            return lean_script(script.read().decode())


class HashedFiles(CompressedManifestStaticFilesStorage):
    """A new release has new names throughout, so that no phone mixes two of them."""

    support_js_module_import_aggregation = True
    _js_module_import_aggregation_patterns = (OWN_SCRIPTS, _IMPORTS)
    max_post_process_passes = 20  # as deep as modules import each other

    def post_process(self, paths: dict[str, tuple[Any, str]], *args: Any, **kwargs: Any) -> Iterator[Any]:
        lean = {
            name: (_LeanScripts(storage) if fnmatch(name, OWN_SCRIPTS) else storage, path)
            for name, (storage, path) in paths.items()
        }
        return super().post_process(lean, *args, **kwargs)  # type: ignore[no-any-return]
