"""Translations (*/LC_MESSAGES/django.po), and the few dates that the house writes otherwise than Django does."""
