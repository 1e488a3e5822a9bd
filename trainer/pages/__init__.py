"""HTML, PDF, and pictures as SVG. The only folder that imports jinja2 and markdown-it.

A page is a `Document` of blocks (`pages/blocks.py`): sections, paragraphs, tables, cards, figures. `handout.py`,
`key.py`, `feedback.py`, `results.py`, `labels.py` and `roll.py` make documents, `large.py` makes one for large letters of any;
only `html.py` with `templates/page.html.j2`, `blocks.html.j2`
and `style.css`, and `pdf.py` with `templates/page.typ`, know how blocks look, so the two cannot say different things
(`tests/pages/test_pdf.py` holds their texts side by side). Rows are kept together by bodies (`Table.bodies`): HTML has a
`tbody` for each, the typesetter a cell of no width that spans their rows. Several documents in a row are a class file.
`commands/printing.py` writes both. What is typeset goes to the typesetter as JSON, never as markup; PDF/UA-1 is
enforced while it is made. A character that the typesetter's fonts lack is found by asking it for each, replaced by
a sign, and named once a run (`Printing.not_shown`). `brief_text.py` turns an exercise's Markdown into blocks,
`brief_template.py` fills its values in: jinja2's immutable sandbox without globals, few filters and methods, no
`*`, `**` or `%`; loops, calls and values are counted before they are made, so that no brief takes long or grows
past 20,000 characters; each value is a mark until Markdown has been read, so that no name can mean anything to it;
raw HTML is text, a link its text and address, a picture its text, and `left_out` names what is lost by that. A line
with nothing but `{% for ... %}` is joined to the next inside the tag, so that lines keep their numbers. The sitting
keeps the brief it was set with (`instructor/brief.md`). The handout is written from what is given; the key is
handed to it only for sheets that are printed filled in.

`pages/drawing.py: draw_topology(scenario, key=None)` draws a lab's network, `pages/pictures.py` a class's marks;
each gives a `Drawing`, SVG with a title and an account in sentences. `network_view.py` decides what is told
(without the key only what is given), `account.py` tells it in words, `topology_layout.py` where everything stands,
`topology.py` how it looks; `svg.py` alone knows SVG. A drawing asks for a generic font, so `lettering.py` measures
by the widths of a wide one: a label in another font is narrower than its room. The picture is 180 mm wide on paper,
with the largest lettering (9.4 to 7.5 pt) with which it is no taller than 238 mm; eight switches with their key
take up to some 300 mm, and are scaled down to 6.7 pt if they have to stand on one page with margins of 15 mm. The
sheet is white in a dark page too, and every mark has a letter, so that a copy in black and white says the same.

`quick_page.py` and `practice_page.py` make pages with forms, shown while the program runs (`commands/local_app.py`): a
value each, a template each, `forms.css` behind `style.css`.
`.venv/bin/python -m pytest -m browser tests/pages` measures all labels of 2 to 8 switches in Chromium.
"""
