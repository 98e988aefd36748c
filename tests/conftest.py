"""What all tests share: none recalls what another, or the user of this machine, checked before."""

import pytest


@pytest.fixture(scope="session", autouse=True)
def _folder_of_this_run(tmp_path_factory):
    """Also for fixtures that live longer than a test."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("kept")))
        yield


@pytest.fixture(autouse=True)
def _folder_of_this_test(tmp_path_factory, monkeypatch):
    """A folder that no other test has written to."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.getbasetemp() / f"kept-{next(_numbers)}"))


_numbers = iter(range(1 << 31))
