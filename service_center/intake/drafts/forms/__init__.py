"""What is asked at each step. A step that is wrong keeps everything that was typed."""

from service_center.intake.drafts.forms.condition import ConditionForm
from service_center.intake.drafts.forms.promise import PromiseForm
from service_center.intake.drafts.forms.readings import ReadingsForm
from service_center.intake.drafts.forms.sign import SignForm
from service_center.intake.drafts.forms.story import StoryForm

__all__ = ["ConditionForm", "PromiseForm", "ReadingsForm", "SignForm", "StoryForm"]
