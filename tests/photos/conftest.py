"""One thread for the picture library: the tests already run on every core."""

import cv2
import pytest


@pytest.fixture(scope="session", autouse=True)
def _one_thread() -> None:
    cv2.setNumThreads(1)
