"""Tests of the store; their fixtures serve the tests of the actions as well."""

import pytest

pytest.register_assert_rewrite("tests.store.databases")
