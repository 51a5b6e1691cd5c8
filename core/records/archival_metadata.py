"""What an archived PDF says of itself: title, language, software and time, and by which standard it was written.

Input: those as text. Output: an XMP packet's inside. The library would write one of its own with the time of printing
in it; the same record must give the same bytes. Source: ISO 19005-1 (PDF/A-1, level B), ISO 16684-1 (XMP).
"""

from datetime import UTC, datetime
from xml.sax.saxutils import escape, quoteattr

_PACKET = """<x:xmpmeta xmlns:x="adobe:ns:meta/">
  <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
    <rdf:Description rdf:about=""
        xmlns:dc="http://purl.org/dc/elements/1.1/"
        xmlns:xmp="http://ns.adobe.com/xap/1.0/"
        xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
        pdfaid:part="1" pdfaid:conformance="B"
        xmp:CreatorTool={creator} xmp:CreateDate={made}>
      <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
      <dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
    </rdf:Description>
  </rdf:RDF>
</x:xmpmeta>"""


def archival_metadata(*, title: str, language: str, creator: str, made: datetime) -> str:
    """The packet's inside; `language` by its code (BCP 47)."""
    return _PACKET.format(
        creator=quoteattr(creator),
        made=quoteattr(made.astimezone(UTC).isoformat(timespec="seconds")),
        title=escape(title),
        language=escape(language),
    )
