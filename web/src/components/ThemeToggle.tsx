import { theme, toggleTheme } from "../lib/theme";
import { Icon } from "./Icon";
import buttons from "./button.module.css";

export function ThemeToggle() {
  const next = theme.value === "dark" ? "light" : "dark";
  const label = `Change to the ${next} theme`;
  return (
    <button type="button" class={buttons.plain} onClick={toggleTheme} aria-label={label} title={label}>
      <Icon name={next === "light" ? "sun" : "moon"} size={18} />
    </button>
  );
}
