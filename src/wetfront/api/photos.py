"""Photos: sent once under the hash of their bytes, so that a device that tries again sends nothing twice."""

import asyncio
import hashlib

from fastapi import APIRouter, Request, Response

from wetfront.api.problems import Refusal
from wetfront.api.site import Site
from wetfront.store.journals import LARGEST_ATTACHMENT_BYTES

router = APIRouter(prefix="/api/photos", tags=["record"])
SIGNATURES = {"image/jpeg": b"\xff\xd8\xff", "image/png": b"\x89PNG\r\n\x1a\n", "image/webp": b"RIFF"}


@router.put("/{sha256}", status_code=204)
async def keep(sha256: str, request: Request) -> Response:
    """Keep a photo. 413 over 10 MB, 415 for what is no picture, 422 where the bytes have another hash."""
    site: Site = request.app.state.site
    content = bytearray()
    async for part in request.stream():
        content += part
        if len(content) > LARGEST_ATTACHMENT_BYTES:
            most = LARGEST_ATTACHMENT_BYTES // 1_000_000
            raise Refusal(413, "The photo is too large", f"at most {most} MB; make it smaller on the device")
    media_type = next((name for name, first in SIGNATURES.items() if content.startswith(first)), None)
    if media_type is None:
        raise Refusal(415, "That is no photo", f"allowed: {', '.join(SIGNATURES)}")
    if hashlib.sha256(content).hexdigest() != sha256:
        raise Refusal(422, "The photo arrived damaged", "its bytes have another hash than its address: send it again")
    await asyncio.to_thread(site.journals.keep_attachment, bytes(content), media_type)
    return Response(status_code=204)


@router.get("/{sha256}")
def given(sha256: str, request: Request) -> Response:
    """A photo."""
    site: Site = request.app.state.site
    found = site.journals.attachment(sha256)
    if found is None:
        raise Refusal(404, "That photo is not here", "it may still be on the device that took it")
    return Response(found[0], media_type=found[1], headers={"cache-control": "private, max-age=31536000, immutable"})
