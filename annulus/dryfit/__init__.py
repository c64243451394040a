"""The dry fit: a page on this machine on which a heater is put together and tried before metal is cut.

Goes in: a case. Comes out: a server that listens on the loopback address only.
"""
