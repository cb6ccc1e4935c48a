SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#api",
  presets: [SwaggerUIBundle.presets.apis],
  layout: "BaseLayout",
  validatorUrl: null,
  deepLinking: true,
});
