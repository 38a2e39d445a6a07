// Asks the installed npm package: node package.mjs < questions. Each question is a line of JSON with the call, the path
// of a file and the other arguments. Each answer is a line of JSON.
import {readFileSync} from "node:fs";
import {createInterface} from "node:readline";

import * as breathline from "breathline";

for await (const line of createInterface({input: process.stdin})) {
  const {call, file, more} = JSON.parse(line);
  try {
    const answer = await breathline[call](readFileSync(file), ...more);
    const text = Array.isArray(answer) ? answer.map(one => ({...one, content: Buffer.from(one.content).toString("base64")})) : answer;
    console.log(JSON.stringify({answer: text}));
  } catch (problem) {
    console.log(JSON.stringify({error: problem.message, name: problem.name, tunes: problem.tunes}));
  }
}
