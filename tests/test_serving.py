"""The real server while others hold its connections or try pass phrases: who is signed in goes on working."""

from __future__ import annotations

import http.client
import socket
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from urllib.parse import urlencode

import pytest
from small import small_session
from staff import add_person

from dashboard import create_app
from dashboard.server import CONNECTIONS, THREADS, listener

PHRASE = "three lamps under oak"


@pytest.fixture
def served(tmp_path):
    """With the real hash, for it is its cost that counts here."""
    add_person(tmp_path, "T1", PHRASE)
    listening = listener(create_app(small_session(tmp_path)).server, "127.0.0.1", 0)
    thread = threading.Thread(target=listening.run, daemon=True)
    thread.start()
    yield listening.effective_port
    listening.close()


def asked(port, method, path, body="", cookie=""):
    began = time.monotonic()
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": cookie}
    connection.request(method, path, body, headers)
    reply = connection.getresponse()
    reply.read()
    connection.close()
    return reply, time.monotonic() - began


def sign_in(port, who="T1", phrase=PHRASE):
    return asked(port, "POST", "/sign-in", urlencode({"who": who, "phrase": phrase, "next": "/"}))


def cookie_of(port):
    return sign_in(port)[0].headers["Set-Cookie"].partition(";")[0]


def test_connections_that_trickle_hold_up_nobody(served):
    """Three hundred send the head of a request byte by byte: nothing of them reaches one of the threads."""
    cookie = cookie_of(served)
    usual = min(asked(served, "GET", "/round", cookie=cookie)[1] for _ in range(3))
    with ExitStack() as stack:
        slow = [stack.enter_context(socket.create_connection(("127.0.0.1", served))) for _ in range(300)]
        assert len(slow) > 100 > THREADS, "more than the server's threads, and than waitress's usual limit"
        for byte in b"POST /round/answers HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 60000\r\n\r\n{":
            for one in slow:
                one.sendall(bytes([byte]))
        times = [asked(served, "GET", "/round", cookie=cookie) for _ in range(5)]
        assert [reply.status for reply, _ in times] == [200] * 5
        assert min(took for _, took in times) < usual + 1.0
    assert CONNECTIONS >= 1000


def test_two_dozen_guesses_at_once_leave_the_threads_to_who_is_signed_in(served):
    cookie = cookie_of(served)
    with ThreadPoolExecutor(24) as pool:
        guesses = [
            pool.submit(sign_in, served, f"X{number}", "nine kettles by a door") for number in range(24)
        ]
        times = [asked(served, "GET", "/round", cookie=cookie) for _ in range(4)]
        replies = [guess.result()[0].status for guess in guesses]
    assert [reply.status for reply, _ in times] == [200] * 4
    assert set(replies) <= {401, 503}
    assert replies.count(401) >= 1
    assert max(took for _, took in times) < 3.0, "it was 3 to 5 seconds"
