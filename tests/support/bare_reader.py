"""The bare kernel's STEP reader, used without any of our care; run it only in a child that may die."""

import io


def read(payload, progress):
    """Read, check the status as one should, transfer."""
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    reader.ReadStream("x", io.BytesIO(payload))
    reader.TransferRoots()
    reader.OneShape()
    return b"alive"


def read_with_care(payload, progress):
    from worker.kernel.measure import volume
    from worker.kernel.stepio import read_part

    return repr(volume(read_part(payload).body)).encode()
