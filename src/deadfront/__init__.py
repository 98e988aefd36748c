"""Deadfront: shows, claim by claim, that one compact liquid-filled MV/LV substation is safe at its site."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from deadfront.library import Project, ProjectErrors, Report, check, load, to_json, write_dossier

__all__ = ["Project", "ProjectErrors", "Report", "check", "load", "to_json", "write_dossier"]


def __getattr__(name: str) -> Any:
    """Names of the library, imported when first asked for: the command line's help needs none of them."""
    if name not in __all__:
        raise AttributeError(f"module 'deadfront' has no attribute {name!r}")
    from deadfront import library

    return getattr(library, name)
