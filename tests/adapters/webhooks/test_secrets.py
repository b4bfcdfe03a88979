"""Signing, against the specification's own vector and its reference library; secrets under seal."""

import time
from base64 import b64decode

import pytest
from coatledger_adapters.webhooks.secrets import (
    PREFIX,
    SealError,
    headers_for,
    make_secret,
    seal,
    unseal,
)
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

OWN = b"of this service" * 3
BODY = b'{"told": "by the bench"}'


def test_the_published_vector_comes_out() -> None:
    # Standard Webhooks, the test vector of its libraries.
    secret, body = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", b'{"test": 2432232314}'
    headers = headers_for([secret], "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, body)
    assert headers == {
        "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek",
        "webhook-timestamp": "1614265330",
        "webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
    }


def test_the_reference_library_takes_what_we_sign_and_nothing_bent() -> None:
    secret = make_secret()
    headers = dict(headers_for([secret], "msg_1", int(time.time()), BODY))
    Webhook(secret).verify(BODY, headers)
    for bent in (
        {**headers, "webhook-id": "msg_2"},
        {**headers, "webhook-timestamp": str(int(time.time()) - 1)},
        {**headers, "webhook-signature": "v1," + "A" * 43 + "="},
    ):
        with pytest.raises(WebhookVerificationError):
            Webhook(secret).verify(BODY, bent)
    with pytest.raises(WebhookVerificationError):
        Webhook(secret).verify(BODY + b" ", headers)


def test_while_a_secret_is_changed_the_holder_of_either_is_content() -> None:
    new, old, other = make_secret(), make_secret(), make_secret()
    headers = dict(headers_for([new, old], "msg_1", int(time.time()), BODY))
    for secret in (new, old):
        Webhook(secret).verify(BODY, headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(other).verify(BODY, headers)


def test_a_secret_has_the_form_and_length_the_specification_asks_for() -> None:
    made = {make_secret() for _ in range(20)}
    assert len(made) == 20
    for secret in made:
        assert 24 <= len(b64decode(secret.removeprefix(PREFIX), validate=True)) <= 64


def test_an_id_that_could_be_read_as_another_is_not_signed() -> None:
    with pytest.raises(AssertionError):
        headers_for([make_secret()], "msg.1", 1, BODY)


def test_what_is_kept_tells_nobody_the_secret() -> None:
    secret = make_secret()
    sealed = seal(OWN, secret)
    assert secret.removeprefix(PREFIX).encode() not in sealed
    assert unseal(OWN, sealed) == secret
    assert seal(OWN, secret) != sealed
    with pytest.raises(SealError):
        unseal(b"of another" * 4, sealed)
    with pytest.raises(SealError):
        unseal(OWN, sealed[:-1] + bytes([sealed[-1] ^ 1]))
