"""Reads a frozen document from standard input and says what another hand makes of it.

An implementation of RFC 8785 of its own: parse, sort keys by UTF-16 code units, write numbers as ECMAScript does
(ECMA-262, Number::toString), hash. Prints one JSON line: the SHA-256 of the bytes as they came, of the bytes as written
here, and whether they are the same.
"""
import hashlib
import json
import sys


def write_number(value):
    if isinstance(value, int):
        return str(value)
    if value == 0:
        return "0"
    text = repr(value)  # shortest digits that read back, as ECMAScript
    sign, text = ("-", text[1:]) if text[0] == "-" else ("", text)
    mantissa, _, exponent = text.partition("e")
    whole, _, fraction = mantissa.partition(".")
    digits = (whole + fraction).lstrip("0")
    point = len(whole) + int(exponent or "0") - (len(whole + fraction) - len((whole + fraction).lstrip("0")))
    digits = digits.rstrip("0") or "0"
    k, n = len(digits), point
    if k <= n <= 21:
        out = digits + "0" * (n - k)
    elif 0 < n <= 21:
        out = digits[:n] + "." + digits[n:]
    elif -6 < n <= 0:
        out = "0." + "0" * -n + digits
    else:
        e = n - 1
        out = digits[0] + ("." + digits[1:] if k > 1 else "") + "e" + ("+" if e >= 0 else "-") + str(abs(e))
    return sign + out


def write(value):
    if isinstance(value, dict):
        keys = sorted(value, key=lambda key: key.encode("utf-16-be"))
        return "{" + ",".join(json.dumps(key, ensure_ascii=False) + ":" + write(value[key]) for key in keys) + "}"
    if isinstance(value, list):
        return "[" + ",".join(write(each) for each in value) + "]"
    if value is None or isinstance(value, (bool, str)):
        return json.dumps(value, ensure_ascii=False)
    return write_number(value)


came = sys.stdin.buffer.read()
written = write(json.loads(came)).encode("utf-8")
print(json.dumps({"came": hashlib.sha256(came).hexdigest(), "written": hashlib.sha256(written).hexdigest(), "same": came == written, "bytes": len(came)}))
