"""New photos made ready before the pages are laid out, so that a broken one stops nothing.

The files of a new photo are made once, on all cores, and wait in the store until the
notebook is written: memory holds those of a few photos, however many there are.
"""

from __future__ import annotations

from journal.command_line.progress import shown
from journal.command_line.workers import cores
from journal.output import Store
from journal.pages.photos import Looked, Photos, ReadyPhoto, photo_paths, ready_of
from journal.photos.prepare import PhotoProblem, PreparedPhoto, digest, prepared_all
from journal.records.notebook import Notebook

#: How the names of files begin that wait to be written.
_WAITING = "made-"


def looked_wholly(notebook: Notebook, known: Photos, store: Store) -> Looked:
    """Every photo that a notebook names, decoded to its last pixel.

    Takes:  notebook  as it is cut for its edition
            known     photos that were looked into before, and are what they were
            store     where the files that are made wait for ``waiting``
    Gives:  what came of each: how it is shown, or why it cannot be
    """
    paths = photo_paths(notebook)
    found: dict[str, ReadyPhoto | PhotoProblem] = {
        path: known[path] for path in paths if path in known
    }
    todo = [path for path in paths if path not in found]
    made = prepared_all([notebook.root / path for path in todo], workers=max(1, cores()))
    told = shown(made, len(todo), "photos made ready")
    for path, (file, came) in zip(todo, told, strict=True):
        if isinstance(came, PreparedPhoto):
            found[path] = ready_of(path, came)
            # A photo that was written to meanwhile is made again, and told if it goes on.
            if digest(file) == came.digest:
                _let_wait(store, found[path], came)
        else:
            found[path] = came
    return {path: found[path] for path in paths}


def _let_wait(store: Store, photo: ReadyPhoto | PhotoProblem, made: PreparedPhoto) -> None:
    assert isinstance(photo, ReadyPhoto)
    for one in made.renditions:
        if one.format in photo.forms:
            store.write(_name(photo.file(one.width, one.format)), one.content)


def waiting(store: Store, path: str) -> bytes | None:
    """The bytes of a photo's file that was made for this notebook; None where it was not."""
    return store.read(_name(path))


def clear_waiting(store: Store) -> None:
    """Throw away what waited, once the notebook is written."""
    store.clear(_WAITING)


def _name(path: str) -> str:
    return _WAITING + path.rpartition("/")[2]
