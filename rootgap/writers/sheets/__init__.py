"""Patterns on paper at true size: one PDF to print, measure, cut out and wrap.

One module a purpose:

    paper      where a drawing goes: sheets, strips, tiles, as data
    pen        drawing in mm on a page
    text       wrapped lines, and rows that flow
    bars       the bars that prove a print true, and the options of a print
    header     the head of a page
    labels     where lettering finds room
    art        a pattern's lines, hatching and lettering
    joins      how tiles go together
    pages      a pattern's pages
    index      the first page
    book       the whole PDF
"""

from rootgap.writers.sheets.book import layout_on_paper, templates, write_templates

__all__ = ["layout_on_paper", "templates", "write_templates"]
