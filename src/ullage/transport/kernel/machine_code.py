"""The kernel's machine code: made once by numba, kept in a file, and taken from there without
numba, whose import alone costs as long as a run of a recipe may take from its command to its
answer.

A wrong file must never give a wrong answer. Its name says what it was made from: the sources of
the kernel, the versions of numba and llvmlite, the processor and its features, and the variables
that steer numba. It begins with a digest of all that follows. Whatever does not fit is made anew;
where no file can be written, the code lives as long as the process."""

from __future__ import annotations

import ctypes
import hashlib
import importlib.util
import json
import os
import re
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

Enter = Callable[[int, int], int]

#: Raised with the shape of the file.
FORMAT = "ullage machine code 1\n"
#: What the code is made from.
SOURCES = (
    "__init__.py",
    "arrays_at.py",
    "line_records.py",
    "operations.py",
    "machine_code.py",
    "../compiled.py",
)
SUFFIX = ".machine-code"

_INTRINSIC = re.compile(r"llvm\.(\w+)")
_MAY_CALL = frozenset({"exp", "log", "pow", "memcpy", "memmove", "memset"})
_HERE = Path(__file__).parent
_NATIVE = ctypes.CFUNCTYPE(
    ctypes.c_int32,
    ctypes.POINTER(ctypes.c_int64),
    ctypes.POINTER(ctypes.c_void_p),
    ctypes.c_int64,
    ctypes.c_int64,
)
_lock = threading.Lock()
_entrance: Enter | None = None
# What must outlive the functions that stand in it.
_kept: list[object] = []


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """An object file: the name of its door, and what it calls outside itself."""

    door: str
    outside: tuple[str, ...]
    image: bytes


def entrance() -> Enter:
    """Return the door of the kernel; it takes the number of a job and the address of a table.

    The lock of the interpreter is let go while it works.
    """
    global _entrance
    if _entrance is None:
        with _lock:
            if _entrance is None:
                _entrance = _found()
    return _entrance


def prepare() -> Path | None:
    """Make the code where it does not stand yet; return its file, or None if none can be kept."""
    entrance()
    return next((path for path in _places(key()) if path.is_file()), None)


def key() -> str:
    """Return what the code depends on, as a short digest."""
    import llvmlite  # type: ignore[import-untyped]
    import llvmlite.binding as llvm  # type: ignore[import-untyped]

    numba = importlib.util.find_spec("numba")
    if numba is None or numba.origin is None:
        raise ImportError("numba is not installed; it makes the solver's machine code")
    version = Path(numba.origin).with_name("_version.py")
    made_from = [
        FORMAT,
        sys.platform,
        sys.implementation.cache_tag,
        str(ctypes.sizeof(ctypes.c_void_p)),
        np.__version__,
        version.read_text(encoding="utf-8") if version.is_file() else str(numba.origin),
        llvmlite.__version__,
        llvm.get_process_triple(),
        llvm.get_host_cpu_name(),
        llvm.get_host_cpu_features().flatten(),
        *sorted(f"{k}={v}" for k, v in os.environ.items() if k.startswith("NUMBA_")),
        *((_HERE / name).read_text(encoding="utf-8") for name in SOURCES),
    ]
    return hashlib.sha256("\0".join(made_from).encode()).hexdigest()[:24]


def _places(mark: str) -> Iterator[Path]:
    """Yield where the code may stand: beside the package's byte code, then with the person's
    caches.
    """
    name = f"kernel-{mark}{SUFFIX}"
    yield _HERE / "__pycache__" / name
    if sys.platform == "win32":
        home = os.environ.get("LOCALAPPDATA")
    else:
        home = os.environ.get("XDG_CACHE_HOME")
    with suppress(RuntimeError):  # a process without a home
        yield Path(home or Path.home() / ".cache") / "ullage" / name


def _found() -> Enter:
    """Return the door of the code in a file, or of code that is made now."""
    mark = key()
    for path in _places(mark):
        code = read(path)
        if code is not None:
            entered = loaded(code)
            if entered is not None:
                return entered
    return _made(mark)


def read(path: Path) -> Code | None:
    """Return the code in a file; None if there is none, or if it is not whole."""
    try:
        whole = path.read_bytes()
    except OSError:
        return None
    head, _, rest = whole.partition(b"\n")
    digest, _, body = rest.partition(b"\n")
    if head + b"\n" != FORMAT.encode() or hashlib.sha256(body).hexdigest().encode() != digest:
        return None
    facts, _, image = body.partition(b"\n")
    told = json.loads(facts)
    return Code(door=told["door"], outside=tuple(told["outside"]), image=image)


def write(code: Code, path: Path) -> None:
    """Write the code to a file, at once or not at all."""
    facts = json.dumps({"door": code.door, "outside": code.outside}).encode()
    body = facts + b"\n" + code.image
    whole = FORMAT.encode() + hashlib.sha256(body).hexdigest().encode() + b"\n" + body
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.stem)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(whole)
        os.replace(name, path)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise


def loaded(code: Code) -> Enter | None:
    """Return the door of code, or None where something that it calls is missing here."""
    import llvmlite.binding as llvm

    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    machine = llvm.Target.from_default_triple().create_target_machine(jit=True)
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    # A name that can't be found would end the process when the code is linked.
    if any(llvm.address_of_symbol(name) is None for name in code.outside):
        return None
    engine.add_object_file(llvm.ObjectFileRef.from_data(code.image))
    engine.finalize_object()
    address = engine.get_function_address(code.door)
    if not address:
        return None
    _kept.append(engine)
    return _called(address)


def _called(address: int) -> Enter:
    """Return a compiled door as a function of Python."""
    native = _NATIVE(address)

    def enter(job: int, table: int) -> int:
        made, excuse = ctypes.c_int64(), ctypes.c_void_p()
        status = native(made, excuse, job, table)
        if status != 0:
            raise RuntimeError(f"the kernel ended with status {status}")
        return made.value

    return enter


def _made(mark: str) -> Enter:
    """Compile the kernel, keep the code where that can be done, and return its door."""
    library, door = _compiled()
    with suppress(AttributeError):  # a numba that keeps its object files elsewhere
        code = code_of(library, door)
        for path in _places(mark):
            with suppress(OSError):
                write(code, path)
                break
        entered = loaded(code)
        if entered is not None:
            return entered
    return _called(library.get_pointer_to_function(door))


def _compiled() -> tuple[Any, str]:
    """Compile the kernel by numba; return its library and the name of its door."""
    from ullage.transport.compiled import numba
    from ullage.transport.kernel.line_records import OPTIONS
    from ullage.transport.kernel.operations import enter

    signature = numba.types.int64(numba.types.int64, numba.types.int64)
    options: dict[str, Any] = {**OPTIONS, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    made: Any = numba.njit(signature, **options)(enter).overloads[signature.args]
    _kept.append(made)
    return made.library, made.fndesc.llvm_func_name


def code_of(library: Any, door: str) -> Code:
    """Return a compiled library of numba as an object file."""
    module = library._final_module
    outside: set[str] = set()
    for thing in (*module.functions, *module.global_variables):
        # What the compiler knows by itself may still end as a call of the C library.
        inside = _INTRINSIC.match(thing.name)
        if inside is not None:
            outside |= {inside[1]} & _MAY_CALL
        elif thing.is_declaration:
            outside.add(thing.name)
    return Code(door=door, outside=tuple(sorted(outside)), image=library._get_compiled_object())
