import { mount } from "svelte";
import "./app.css";
import App from "./App.svelte";
import { settings } from "./lib/settings.svelte";

settings.takeFromAddress();
mount(App, { target: document.getElementById("app")! });
