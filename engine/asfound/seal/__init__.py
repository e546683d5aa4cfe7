"""Sealed documents: one archive that holds a record with everything its findings came from, and shows any change.

A seal is a ZIP archive with a manifest of fingerprints and, where a key was
given, an Ed25519 signature of the manifest. It holds the record and the
photographs byte for byte, every rule and table used, the findings, and the
documents given along. The same input gives the same bytes. A seal shows what
has changed since it was made; it approves nothing.

`make` puts one together, `check` says what differs in one, `beside` compares
it with files on disk, `chain` with the documents it amends, `again` judges the
sealed record anew. `zipform`, `unpack`, `manifest` and `signing` know the form
of its parts, `origin` and `supplied` what documents and approvals say.
"""
