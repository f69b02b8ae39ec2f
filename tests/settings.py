"""The site's settings with what tests need: a cheap hasher, plain static names, a scratch var."""

import os
import tempfile
from pathlib import Path

os.environ.setdefault("WANEYARD_SECRET_KEY", "tests-only-" + "k" * 60)
os.environ.setdefault("WANEYARD_VAR", tempfile.mkdtemp(prefix="waneyard-tests-"))
os.environ.setdefault("WANEYARD_TIME_ZONE", "UTC")

from catalogue.settings import *  # noqa: F403
from catalogue.settings import DATABASES, STORAGES, VAR_DIR

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
MEDIA_ROOT = Path(VAR_DIR) / "media"
AIR_IMPORTS_INLINE = True
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file, as in a real yard: two connections then queue for the lock as they would there.
    DATABASES["default"]["TEST"] = {"NAME": str(Path(VAR_DIR) / "tests.sqlite3")}
