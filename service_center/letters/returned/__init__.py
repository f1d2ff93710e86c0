"""The ways by which word of a letter comes back: a mailbox, a folder of messages, the mail provider's calls; its page."""
