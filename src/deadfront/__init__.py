"""Deadfront: shows, claim by claim, that one compact liquid-filled MV/LV substation is safe at its site."""
