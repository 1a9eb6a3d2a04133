"""Build identity, manifest chain, cleaning, audit and switch-over; the only package that writes into a site.

    index.html, comparisons/<slug>/…, parts/…, methods/…    the newest pages and their live files
    archive/assets/<digest16>.<suffix>                      charts, photos, downloads, styles: named by content
    archive/pages/<page path>/<digest12>.html               every version of a page, with links of its own
    archive/pages/<page path>/versions.json                 a page's versions and when each was first published
    archive/sources/<digest16>.<suffix>                     cleaned inputs that may be published
    archive/entries/<digest16>.json                         what one comparison or part was made from and came to
    archive/builds/<sequence>-<digest8>.json                a build's manifest: one line an entry, chained by digests
    archive/builds/<sequence>-<digest8>.html                what that build changed

Nothing under archive/ is ever written twice with another content, versions.json aside; ``slimming`` and
``withdrawing`` put notices in place of what they take out, and record it in a manifest of their own.

    names, manifests, disk  ←  store  ←  workfolder, sources, notices  ←  stage  ←  entries  ←  removed  ←  publisher
    publisher, auditing, comparing, recovering, slimming, withdrawing are what the build and the command line call
"""
