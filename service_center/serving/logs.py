"""What is written down of what goes wrong, without what must not be: the secret in an owner's link opens their page."""

import logging
import re

SECRET = re.compile(r"(/o/(?:(?:stop|address)/)?)[\w-]+")


class NoSecrets(logging.Filter):
    """Takes the secret out of every address of an owner's page before a line is written."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = SECRET.sub(r"\1…", record.getMessage()), None
        return True
