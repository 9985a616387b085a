"""Put an authority among those that a browser trusts: `python browser_trust.py HOME AUTHORITY.pem`, Debian's chromium.

The browser looks into the database of the NSS library in the home folder; the library is asked itself to make it.
"""

import ctypes
import ssl
import sys
from pathlib import Path


class Item(ctypes.Structure):
    _fields_ = (("kind", ctypes.c_uint), ("data", ctypes.c_char_p), ("length", ctypes.c_uint))


def trust(home: Path, authority: Path) -> None:
    place = home / ".pki" / "nssdb"
    place.mkdir(parents=True)
    nss = ctypes.CDLL("libnss3.so")
    for name in ("PK11_GetInternalKeySlot", "CERT_GetDefaultCertDB", "CERT_NewTempCertificate"):
        getattr(nss, name).restype = ctypes.c_void_p
    if nss.NSS_InitReadWrite(f"sql:{place}".encode()) != 0:
        raise OSError("the database of trusted authorities cannot be made")
    slot = ctypes.c_void_p(nss.PK11_GetInternalKeySlot())
    known = ctypes.c_void_p(nss.CERT_GetDefaultCertDB())
    if nss.PK11_NeedUserInit(slot):
        nss.PK11_InitPin(slot, None, b"")
    der = ssl.PEM_cert_to_DER_cert(authority.read_text())
    item = Item(0, der, len(der))
    certificate = ctypes.c_void_p(nss.CERT_NewTempCertificate(known, ctypes.byref(item), None, 0, 1))
    flags = (ctypes.c_uint * 3)()
    done = certificate and nss.PK11_ImportCert(slot, certificate, ctypes.c_ulong(0), b"site", 0) == 0
    done = done and nss.CERT_DecodeTrustString(ctypes.byref(flags), b"C,,") == 0
    done = done and nss.CERT_ChangeCertTrust(known, certificate, ctypes.byref(flags)) == 0
    if not done:
        raise OSError(f"{authority} cannot be trusted")
    nss.CERT_DestroyCertificate(certificate)
    nss.PK11_FreeSlot(slot)
    nss.NSS_Shutdown()


if __name__ == "__main__":
    trust(Path(sys.argv[1]), Path(sys.argv[2]))
