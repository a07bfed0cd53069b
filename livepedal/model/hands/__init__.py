"""The hands: what they can take, how soon, which string may be plucked again, and figurations that a file plays out."""

from livepedal.model.hands.figurations import Figuration, FigurationKind
from livepedal.model.hands.histories import Share
from livepedal.model.hands.judging import Hands
from livepedal.model.hands.pace import StringFault
from livepedal.model.hands.placing import HandsFault, HandTrouble

__all__ = ["Figuration", "FigurationKind", "HandTrouble", "Hands", "HandsFault", "Share", "StringFault"]
