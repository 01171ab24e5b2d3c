"""Asks PyPI's cryptography for keys under a passphrase: it opens ours, and makes one for us.

    keys.py OURS PASSPHRASE PUBLIC_HEX THEIRS     (THEIRS is written, under the same passphrase)
"""

import os
import sys

from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ours, passphrase, public_hex, theirs = sys.argv[1:]
password = passphrase.encode()

with open(ours, "rb") as file:
    pem = file.read()
key = serialization.load_pem_private_key(pem, password)
found = key.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw).hex()
if found != public_hex:
    sys.exit(f"another public key: {found}")
try:
    serialization.load_pem_private_key(pem, b"not " + password)
    sys.exit("it opens under any passphrase")
except ValueError:
    pass

made = Ed25519PrivateKey.generate()
encryption = serialization.BestAvailableEncryption(password)
with open(os.open(theirs, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
    file.write(made.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, encryption))
print(made.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw).hex())
