"""The page that shows the API, with nothing loaded from elsewhere.

swagger-ui-bundle.js, swagger-ui.css and the icon are of swagger-ui-dist 5.35.0, as packed by its makers but for the
reference to source maps: Apache License 2.0, see LICENSE, NOTICE and swagger-ui-bundle.js.LICENSE.txt beside them.
"""
