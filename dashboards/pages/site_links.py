"""What file a site's page is written to, and how other pages link to it.

A site id is whatever stands in the register, so it may hold slashes, dots or letters no file
system takes. Ids that are safe as they are keep their name; any other gets a readable stem and
a checksum, so that two ids never share a file and none leaves the folder.
"""

import hashlib
import re
from urllib.parse import quote

SITE_FOLDER = "site"

_SAFE_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
_UNSAFE_CHARACTERS = re.compile(r"[^A-Za-z0-9_-]+")
_DEVICE_NAMES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)
_STEM_LENGTH = 40
_CHECKSUM_LENGTH = 10


def site_file_name(site_id: str) -> str:
    """Name of a site's page within the ``site`` folder.

    ``~`` stands before a checksum only, and no safe id holds one, so a made name never meets
    a kept one.
    """
    if (
        _SAFE_ID.fullmatch(site_id)
        and not site_id.endswith(".")
        and not _DEVICE_NAMES.fullmatch(site_id)
    ):
        return f"{site_id}.html"
    stem = _UNSAFE_CHARACTERS.sub("-", site_id)[:_STEM_LENGTH].strip("-_") or "site"
    checksum = hashlib.sha256(site_id.encode("utf-8", "surrogatepass")).hexdigest()
    return f"{stem}~{checksum[:_CHECKSUM_LENGTH]}.html"


def site_href(site_id: str) -> str:
    """Relative link from a page in the output folder to a site's page."""
    return f"{SITE_FOLDER}/{quote(site_file_name(site_id))}"
