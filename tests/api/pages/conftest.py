"""A browser for each file of tests, and a service that it can reach."""

from collections.abc import Iterator

import pytest
from browser import Door, browser_here, running_browser
from listening_service import Listening, listening


@pytest.fixture(scope="module")
def door() -> Iterator[Door]:
    """A running browser; it ends with the file, for its loop would disturb other tests."""
    path = browser_here()
    if path is None:
        pytest.skip("a headless browser: chromium is not installed")
    with running_browser(path) as one:
        yield one


@pytest.fixture
def listens() -> Iterator[Listening]:
    """A service over a ledger in memory, with a clock the test moves."""
    with listening() as one:
        yield one
